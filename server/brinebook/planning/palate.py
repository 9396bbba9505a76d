"""What a rider cannot take, by name or by allergen: never planned, packed or handed to him. Likes only rank."""

from brinebook.planning.books import Books, record_key
from brinebook.records.edited import Allergen, Drink, Food, RiderPalate


def cannot_take(books: Books, rider_id: str) -> frozenset[str]:
    """Return the ids of the drinks and foods a rider cannot take."""
    palate = books.palates.get(rider_id)
    if palate is None:
        return frozenset()
    dishes: tuple[Drink | Food, ...] = (*books.drinks, *books.foods.values())
    avoided = frozenset(palate.cannot_allergens)
    return frozenset(palate.cannot) | {dish.id for dish in dishes if avoided & allergens_of(books, dish)}


def allergens_of(books: Books, dish: Drink | Food) -> frozenset[Allergen]:
    """Return a dish's allergens, those of the powders it is mixed from included."""
    portions = dish.recipe if isinstance(dish, Drink) else []
    mixed_in = (books.supplies[portion.supply_id] for portion in portions if portion.supply_id in books.supplies)
    return frozenset(dish.allergens).union(*(supply.allergens for supply in mixed_in))


def likes(books: Books, rider_id: str) -> frozenset[str]:
    """Return the ids of the drinks and foods a rider likes and can take."""
    palate = books.palates.get(rider_id, RiderPalate(id=rider_id))
    return frozenset(palate.likes) - cannot_take(books, rider_id)


def palate_keys(books: Books, rider_id: str) -> tuple[str, ...]:
    """Name what decides a rider's choice, for a basis; nothing for a rider who can take everything."""
    palate = books.palates.get(rider_id)
    return () if palate is None else (record_key("rider_palate", palate),)
