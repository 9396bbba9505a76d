"""What a plan may choose from for one rider and stage: drinks as mixed, foods, what he likes and what is left."""

from dataclasses import dataclass

from brinebook.engine.plan.bottles import DrinkOption, FoodOption
from brinebook.engine.plan.drinks import water_fraction_frac
from brinebook.planning.books import Books, record_key
from brinebook.planning.palate import cannot_take, likes, palate_keys
from brinebook.planning.shelf import Level, drink_level, food_level
from brinebook.planning.strength import Mixed, drinks_as_mixed
from brinebook.records.edited import Food, Sugar

STOCK_U: dict[Level, float] = {"plenty": 0.0, "low": 0.4, "out": 0.0}
"""A drink that is nearly out costs as much as two bottles; one that is out is not on the table."""
NOT_LIKED_U = 0.1
"""Per bottle or unit, once a rider has said what he likes: half a bottle's cost."""


@dataclass(frozen=True)
class Table:
    """What the plan chooses from, in one fixed order."""

    drinks: tuple[Mixed, ...]
    foods: tuple[Food, ...]
    levels: dict[str, Level]
    likes: frozenset[str]
    palate: tuple[str, ...]

    @property
    def keys(self) -> tuple[str, ...]:
        """Name everything on the table, for a basis; of the stock only the word counts."""
        return (
            *(key for drink in self.drinks for key in drink.keys), *(record_key("food", food) for food in self.foods),
            *(f"shelf:{id_}={level}" for id_, level in sorted(self.levels.items()) if level != "plenty"), *self.palate,
        )


def table_of(books: Books, rider_id: str, place: int) -> Table:
    """Lay out the drinks as mixed and the foods; what the rider cannot take and what is out is not on his table."""
    mixed, cannot = drinks_as_mixed(books, place), cannot_take(books, rider_id)
    levels: dict[str, Level] = {drink.id: drink_level(books, drink) for drink in books.drinks}
    levels |= {food.id: food_level(books, food) for food in books.foods.values()}
    gone = cannot | {id_ for id_, level in levels.items() if level == "out"}
    return Table(
        tuple(mixed[key] for key in sorted(mixed) if key not in gone),
        tuple(books.foods[key] for key in sorted(books.foods) if key not in gone),
        levels, likes(books, rider_id), palate_keys(books, rider_id),
    )


def drink_option(table: Table, mixed: Mixed) -> DrinkOption:
    """Tell the solver one drink."""
    drink = mixed.drink
    return DrinkOption(
        bottle_l=drink.bottle_l, water_frac=float(water_fraction_frac(drink.carbohydrate_g_per_l)),
        sodium_mg_per_l=mixed.sodium_mg_per_l, carbohydrate_g_per_l=drink.carbohydrate_g_per_l,
        sugar="single" if _is_single(drink.sugar) else "mixed",
        flavour="" if drink.kind == "water" else drink.flavour or drink.id,
        taste_u=0.0 if drink.kind == "water" else _taste_u(table, drink.id),
        stock_u=STOCK_U[table.levels[drink.id]],
    )


def food_option(table: Table, food: Food) -> FoodOption:
    """Tell the solver one food; a food whose sugars nobody has entered counts as a single source."""
    return FoodOption(
        carbohydrate_g=food.carbohydrate_g, sodium_mg=food.sodium_mg, water_l=food.water_l,
        sugar="single" if _is_single(food.sugar) else "mixed",
        taste_u=_taste_u(table, food.id), stock_u=STOCK_U[table.levels[food.id]],
    )


def _is_single(sugar: Sugar) -> bool:
    return sugar in {"single", "unknown"}


def _taste_u(table: Table, id_: str) -> float:
    return 0.0 if not table.likes or id_ in table.likes else NOT_LIKED_U
