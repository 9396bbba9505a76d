"""How much of a drink or a food there is, in three words: what was counted and delivered, less what was handed up."""

from math import floor
from typing import Literal

from brinebook.planning.books import Books
from brinebook.records.edited import Drink, Food
from brinebook.records.facts import Ate, Delivered, HandedUp, StockCounted

Level = Literal["plenty", "low", "out"]
LOW_PER_RIDER_N = 6
"""A drink with fewer bottles than this for each rider is low: about a stage's worth; common practice, no source."""
LOW_FOOD_PER_RIDER_N = 4


def drink_level(books: Books, drink: Drink) -> Level:
    """Say how much is left of a drink by the powder of its recipe that is scarcest; plenty while nobody counts."""
    counts = [_bottles_n(books, portion.supply_id, portion.g_per_l * drink.bottle_l) for portion in drink.recipe]
    known = [count for count in counts if count is not None]
    return _level(min(known), LOW_PER_RIDER_N * len(books.riders)) if known else "plenty"


def food_level(books: Books, food: Food) -> Level:
    """Say how much is left of a food; plenty while nobody counts."""
    counted = _counted(books, food.id)
    if counted is None:
        return "plenty"
    amount_n, since_ms = counted
    eaten = sum(fact.body.n_units for fact in books.facts
                if isinstance(fact.body, Ate) and fact.body.food_id == food.id and fact.event.at_ms > since_ms)
    return _level(floor(amount_n - eaten), LOW_FOOD_PER_RIDER_N * len(books.riders))


def _level(left_n: int, low_n: int) -> Level:
    if left_n <= 0:
        return "out"
    return "low" if left_n < low_n else "plenty"


def _bottles_n(books: Books, supply_id: str, per_bottle_g: float) -> int | None:
    """Return the bottles a supply is enough for; what was handed up since the count is gone, of every drink of it."""
    counted = _counted(books, supply_id)
    if counted is None or per_bottle_g <= 0.0:
        return None
    amount_g, since_ms = counted
    per_litre_g = {
        one.id: sum(portion.g_per_l for portion in one.recipe if portion.supply_id == supply_id) for one in books.drinks
    }
    used_g = sum(
        fact.body.n_bottles * fact.body.volume_l * per_litre_g.get(fact.body.drink_id, 0.0)
        for fact in books.facts if isinstance(fact.body, HandedUp) and fact.event.at_ms > since_ms
    )
    return floor((amount_g - used_g) / per_bottle_g)


def _counted(books: Books, item_id: str) -> tuple[float, int] | None:
    """Return the last count with what was delivered since, and when it was taken."""
    counts = [(fact.event.at_ms, fact.event.id, fact.body.n_amount) for fact in books.facts
              if isinstance(fact.body, StockCounted) and fact.body.item_id == item_id]
    if not counts:
        return None
    at_ms, _, amount = max(counts)
    delivered = sum(fact.body.n_amount for fact in books.facts
                    if isinstance(fact.body, Delivered) and fact.body.item_id == item_id and fact.event.at_ms > at_ms)
    return amount + delivered, at_ms
