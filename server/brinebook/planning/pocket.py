"""The rule of thumb for the pocket: which blend of the team's own bottles is as salty as this rider's sweat."""

from collections.abc import Iterable

from brinebook.engine.measure.sodium_estimate import SodiumEstimate
from brinebook.engine.plan.drinks import pocket_rule
from brinebook.planning.strength import Mixed
from brinebook.records.derived import PocketRule
from brinebook.records.edited import Food


def pocket_of(estimate: SodiumEstimate, *, mixed: dict[str, Mixed], foods: dict[str, Food]) -> PocketRule | None:
    """Blend the standard bottle with the salty one or with water; None when the team has no standard bottle."""
    base = _first(mixed.values(), "standard")
    if base is None or base.sodium_mg_per_l <= 0.0:
        return None
    salty = _first(mixed.values(), "high_sodium")
    food = max(foods.values(), key=lambda food: (food.sodium_mg, food.id), default=None)
    blend = pocket_rule(
        estimate.mean_mmol_per_l,
        spread_mmol_per_l=(estimate.low_mmol_per_l, estimate.high_mmol_per_l),
        base_mg_per_l=base.sodium_mg_per_l,
        salty_mg_per_l=None if salty is None else salty.sodium_mg_per_l,
        bottle_l=base.drink.bottle_l,
        food_sodium_mg=None if food is None else food.sodium_mg,
    )
    return PocketRule(
        code=blend.code,
        target_mg_per_l=blend.target_mg_per_l,
        base_drink_id=base.drink.id,
        salty_drink_id=None if salty is None else salty.drink.id,
        one_in_n=blend.one_in_n,
        one_in_n_low=blend.one_in_n_low,
        one_in_n_high=blend.one_in_n_high,
        food_id=None if food is None or blend.food_units_per_salty_bottle is None else food.id,
        food_units_per_salty_bottle=blend.food_units_per_salty_bottle,
    )


def _first(mixed: Iterable[Mixed], kind: str) -> Mixed | None:
    return min((one for one in mixed if one.drink.kind == kind), key=lambda one: one.drink.id, default=None)
