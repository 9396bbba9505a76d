"""Drinks from their powders, powders from their labels: figures worked out once, and checked before they are kept."""

from dataclasses import dataclass

from brinebook.engine.plan.drinks import osmolality_mosm_per_l, water_fraction_frac
from brinebook.engine.plan.label import LabelReading, Line, Question, Serving, label_reading
from brinebook.engine.units import citrate_sodium_mg, salt_sodium_mg, sodium_mmol
from brinebook.records.edited import Allergen, Drink, Edited, Portion, Sugar, Supply

SAME_FRAC, SAME_MG, SAME_G = 0.005, 0.5, 0.05
MIXED_FROM_FRAC = 0.2
"""From this share of fructose on a carbohydrate counts as one of mixed sources; common practice, no source."""
MAX_CARBOHYDRATE_G_PER_L, MAX_SODIUM_MG_PER_L = 160.0, 4000.0


@dataclass(frozen=True)
class Composition:
    """What a recipe makes of a litre."""

    sodium_mg_per_l: float
    carbohydrate_g_per_l: float
    osmolality_mosm_per_l: float
    water_frac: float
    sugar: Sugar
    fructose_frac: float | None
    allergens: tuple[Allergen, ...]


@dataclass(frozen=True)
class Refusal:
    """A field that cannot be kept as it is: value met, and what it needs."""

    field: str
    value: str
    limit: str


def held_by(supply: Supply) -> tuple[float, float]:
    """Return the sodium [mg] and the carbohydrate [g] of a gram: a salt's by its formula, a powder's as kept."""
    if supply.kind == "table_salt":
        return salt_sodium_mg(1.0), 0.0
    if supply.kind == "citrate":
        return citrate_sodium_mg(1.0), 0.0
    return supply.sodium_mg_per_g, supply.carbohydrate_g_per_g


def composition(recipe: list[Portion], supplies: dict[str, Supply]) -> Composition:
    """Add up a recipe; a supply that is not there brings nothing and is refused when the drink is kept."""
    parts = [(one.g_per_l, supplies[one.supply_id]) for one in recipe if one.supply_id in supplies]
    sodium = sum(g * held_by(supply)[0] for g, supply in parts)
    carbohydrate = sum(g * held_by(supply)[1] for g, supply in parts)
    fructose = _fructose_frac(parts, carbohydrate)
    return Composition(
        sodium_mg_per_l=sodium, carbohydrate_g_per_l=carbohydrate, osmolality_mosm_per_l=_osmolality(parts),
        water_frac=float(water_fraction_frac(carbohydrate)), sugar=_sugar(carbohydrate, fructose),
        fructose_frac=fructose,
        allergens=tuple(sorted({allergen for _, supply in parts for allergen in supply.allergens})),
    )


def _fructose_frac(parts: list[tuple[float, Supply]], carbohydrate: float) -> float | None:
    sweet = [(g * held_by(supply)[1], supply.fructose_frac) for g, supply in parts if held_by(supply)[1] > 0.0]
    if carbohydrate <= 0.0 or any(share is None for _, share in sweet):
        return None
    return sum(mass * (share or 0.0) for mass, share in sweet) / carbohydrate


def _sugar(carbohydrate: float, fructose_frac: float | None) -> Sugar:
    if carbohydrate <= 0.0:
        return "none"
    if fructose_frac is None:
        return "unknown"
    return "mixed" if fructose_frac >= MIXED_FROM_FRAC else "single"


def _osmolality(parts: list[tuple[float, Supply]]) -> float:
    """Count particles powder by powder; what is neither sucrose nor maltodextrin counts as single sugars."""
    total = 0.0
    for g, supply in parts:
        sodium, carbohydrate = held_by(supply)
        sucrose, starch = supply.sucrose_frac, supply.maltodextrin_frac
        is_citrate = supply.kind == "citrate"
        total += osmolality_mosm_per_l(
            monosaccharide_g_per_l=g * carbohydrate * max(0.0, 1.0 - sucrose - starch),
            sucrose_g_per_l=g * carbohydrate * sucrose, maltodextrin_g_per_l=g * carbohydrate * starch,
            dextrose_equivalent_n=supply.dextrose_equivalent_n,
            chloride_mmol_per_l=0.0 if is_citrate else sodium_mmol(g * sodium),
            citrate_sodium_mmol_per_l=sodium_mmol(g * sodium) if is_citrate else 0.0,
        )
    return total


def read_label(supply: Supply) -> LabelReading:
    """Read a supply's label as typed."""
    lines = tuple(Line(one.nutrient, one.typed, one.unit, one.basis) for one in supply.label)
    return label_reading(lines, serving=Serving(supply.serving_g, supply.serving_l))


def open_questions(supply: Supply) -> tuple[Question, ...]:
    """Return the questions about a label that nobody has answered yet."""
    return tuple(one for one in read_label(supply).questions if one.key not in supply.answered)


def refusal_of(record: Edited, supplies: dict[str, Supply]) -> Refusal | None:
    """Say why a supply or a drink cannot be kept, or None: a figure that its label or recipe does not bear out."""
    if isinstance(record, Supply):
        return _supply_refusal(record)
    return _drink_refusal(record, supplies) if isinstance(record, Drink) and record.recipe else None


def _supply_refusal(supply: Supply) -> Refusal | None:
    if not supply.label:
        return None
    read = read_label(supply)
    asked = open_questions(supply)
    if asked:
        return Refusal("answered", ", ".join(supply.answered), f"an answer to {', '.join(one.key for one in asked)}")
    for field, kept, said in (
        ("sodium_mg_per_g", supply.sodium_mg_per_g, read.sodium_mg_per_g),
        ("carbohydrate_g_per_g", supply.carbohydrate_g_per_g, read.carbohydrate_g_per_g),
    ):
        if abs(kept - said) > SAME_FRAC * said + SAME_FRAC / 10.0:
            return Refusal(field, f"{kept:g}", f"{said:.4g}, as its label reads")
    return None


def _drink_refusal(drink: Drink, supplies: dict[str, Supply]) -> Refusal | None:
    unknown = [one.supply_id for one in drink.recipe if one.supply_id not in supplies]
    if unknown:
        return Refusal("recipe", ", ".join(unknown), "supplies of the catalogue")
    made = composition(drink.recipe, supplies)
    for field, kept, said, least, most in (
        ("sodium_mg_per_l", drink.sodium_mg_per_l, made.sodium_mg_per_l, SAME_MG, MAX_SODIUM_MG_PER_L),
        ("carbohydrate_g_per_l", drink.carbohydrate_g_per_l, made.carbohydrate_g_per_l, SAME_G,
         MAX_CARBOHYDRATE_G_PER_L),
    ):
        if said > most:
            return Refusal("recipe", f"{said:.4g}", f"at most {most:g} for {field}")
        if abs(kept - said) > SAME_FRAC * said + least:
            return Refusal(field, f"{kept:g}", f"{said:.4g}, as its recipe makes it")
    return None
