"""Which bottle at which feed: solve the programme, read the plan, say which limit holds it back."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from brinebook.engine.constants import balance as c
from brinebook.engine.errors import UnphysicalInput, physical, physical_positive
from brinebook.engine.plan.balance import plasma_sodium_mmol_per_l
from brinebook.engine.plan.freeing import freed
from brinebook.engine.plan.layout import Matrix, Programme
from brinebook.engine.plan.limits_water import allowed_water_l
from brinebook.engine.plan.programme import programme_of
from brinebook.engine.plan.search import Found, Gap, solve
from brinebook.engine.plan.search_linear import Shadow
from brinebook.engine.plan.terms import (
    BottlePlan,
    BottlePlanInput,
    DrinkOption,
    FoodOption,
    Freed,
    PlanLimits,
    PlanWeights,
)
from brinebook.engine.units import sodium_mmol
from brinebook.engine.validity import Violation, range_violations

__all__ = [
    "BottlePlan", "BottlePlanInput", "DrinkOption", "FoodOption", "Freed", "PlanLimits", "PlanWeights",
    "allowed_water_l", "plan_bottles",
]
MODEL = "bottle_plan"
ROUNDING = float(np.sqrt(np.finfo(np.float64).eps))
SODIUM_CODES = {"sodium_per_h", "sodium_total", "water_with_strong", "stock"}
SHORT_OF_SODIUM = "short_of_sodium"
"""No limit: the strongest drink on offer is too weak."""


def _check(inp: BottlePlanInput) -> None:
    """Refuse the impossible; everything else gets a plan."""
    physical_positive("times_h", np.diff(inp.times_h))
    for name in ("sweat_q10_l", "sweat_q50_l", "sweat_q90_l"):
        sweat_l = physical(name, getattr(inp, name), low=0.0)
        if sweat_l.shape != inp.times_h.shape:
            raise UnphysicalInput(name, float(sweat_l.size))
        physical(name, np.diff(sweat_l), low=0.0)
    physical("sweat_q50_l", inp.sweat_q50_l - inp.sweat_q10_l, low=0.0)
    physical("sweat_q90_l", inp.sweat_q90_l - inp.sweat_q50_l, low=0.0)
    for name in ("tbw_l", "mass_kg", "sodium_mmol_per_l", "plasma_sodium_mmol_per_l"):
        physical_positive(name, getattr(inp, name))
    physical("start_deficit_l", inp.start_deficit_l, low=0.0)
    if inp.sodium_high_mmol_per_l is not None:
        physical("sodium_high_mmol_per_l", inp.sodium_high_mmol_per_l, low=inp.sodium_mmol_per_l)
    _check_feeds(inp)
    _check_road(inp)


def _check_feeds(inp: BottlePlanInput) -> None:
    """Check that there is one number for each feed."""
    n_segments = len(inp.times_h) - 1
    physical("max_bottles_per_feed", inp.max_bottles_per_feed, low=0.0)
    per_feed: dict[str, NDArray[np.float64] | NDArray[np.int64]] = {"max_bottles_per_feed": inp.max_bottles_per_feed}
    if inp.hand_up_odds_frac is not None:
        physical("hand_up_odds_frac", inp.hand_up_odds_frac, low=0.0, high=1.0)
        per_feed["hand_up_odds_frac"] = np.asarray(inp.hand_up_odds_frac)
    for name, values in per_feed.items():
        if len(values) != n_segments:
            raise UnphysicalInput(name, float(len(values)))


def _check_road(inp: BottlePlanInput) -> None:
    """Check that the finer loss rises and comes with its instants."""
    if inp.road_h is None and inp.road_q10_l is None:
        return
    if inp.road_h is None or inp.road_q10_l is None or inp.road_h.shape != inp.road_q10_l.shape:
        raise UnphysicalInput("road_q10_l", float(0 if inp.road_q10_l is None else inp.road_q10_l.size))
    physical_positive("road_h", np.diff(inp.road_h))
    physical("road_q10_l", np.diff(physical("road_q10_l", inp.road_q10_l, low=0.0)), low=0.0)


def _binding(programme: Programme, point: Matrix, price_u: dict[str, float]) -> tuple[str, ...]:
    """Codes of the limits whose loosening by a step would be worth more than saying so costs."""
    columns = programme.columns
    shown = {code for code, worth_u in price_u.items() if worth_u > c.LEAST_PRICE_U}
    is_short_of_sodium = point[columns.sodium_off[1]] > c.SODIUM_STEP_MG / 2.0
    if is_short_of_sodium and not shown & SODIUM_CODES:
        shown.add(SHORT_OF_SODIUM)
    return tuple(sorted(shown))


def _violations(inp: BottlePlanInput, plan: BottlePlan) -> tuple[Violation, ...]:
    """Say where the answer is outside what was meant to hold; drinking nothing alone may cross the floor."""
    limits = inp.limits
    tolerated_frac = limits.tolerated_deficit_cool_frac if inp.is_cool else limits.tolerated_deficit_frac
    worst_frac = float(plan.deficit_frac.max())
    steps = (c.WARNING_DEFICIT_FRAC, tolerated_frac)
    dry = tuple(
        Violation(MODEL, "deficit_frac", worst_frac, 0.0, most_frac)
        for most_frac in steps if worst_frac > most_frac + c.DEFICIT_STEP_FRAC
    )
    return (
        *dry[:1],
        *range_violations(MODEL, "plasma_low_mmol_per_l", plan.plasma_low_mmol_per_l,
                          low=limits.plasma_floor_mmol_per_l - ROUNDING, high=np.inf),
        *range_violations(MODEL, "plasma_high_mmol_per_l", plan.plasma_high_mmol_per_l,
                          low=-np.inf, high=limits.plasma_ceiling_mmol_per_l + ROUNDING),
    )


def _read(inp: BottlePlanInput, programme: Programme, found: Found) -> BottlePlan:
    """Turn a point of the programme into a plan."""
    columns, point = programme.columns, found.point
    water_l, sodium_mg = (programme.water @ point).cumsum(), (programme.sodium @ point).cumsum()
    ends = [
        np.asarray(plasma_sodium_mmol_per_l(
            inp.tbw_l,
            water_gain_l=water_l - sweat_l,
            cation_gain_mmol=sodium_mmol(sodium_mg) - (inp.sodium_mmol_per_l + inp.potassium_mmol_per_l) * sweat_l,
            start_mmol_per_l=inp.plasma_sodium_mmol_per_l,
        ))
        for sweat_l in (inp.sweat_q10_l[1:], inp.sweat_q90_l[1:])
    ]
    return BottlePlan(
        bottles=point[columns.bottles].astype(np.int64),
        foods=point[columns.foods].astype(np.int64),
        drunk_l=point[columns.drunk],
        eaten=point[columns.eaten],
        cumulative_water_l=water_l,
        cumulative_sodium_mg=sodium_mg,
        cumulative_carbohydrate_g=(programme.carbohydrate @ point).cumsum(),
        deficit_frac=(inp.sweat_q50_l[1:] + inp.start_deficit_l - water_l) / inp.mass_kg,
        plasma_low_mmol_per_l=np.minimum(*ends),
        plasma_high_mmol_per_l=np.maximum(*ends),
        penalty_u=float(programme.cost @ point),
        bound_u=found.bound_u,
        binding=(),
        freed=(),
        violations=(),
        is_relaxed=False,
    )


def plan_bottles(inp: BottlePlanInput) -> BottlePlan:
    """
    Whole bottles and foods to hand up at each feed, and how much of them to drink before the next.

    Parameters
    ----------
    inp : BottlePlanInput
        The rider, the stage and the offer.

    Returns
    -------
    BottlePlan
        The plan of least penalty within the hard limits. The least water of a cool stage gives way first
        (``is_relaxed``); if even then nothing is allowed, the plan is to drink nothing and ``violations`` say why.

    Raises
    ------
    UnphysicalInput
        If times do not rise, sweat falls or its quantiles cross, or shapes differ.

    Notes
    -----
    The same input gives the same plan: the search counts steps, not seconds.

    References
    ----------
    .. [1] Source key ``balance_pin``, section 11.
    """
    _check(inp)
    gap = Gap(inp.weights.gap_u, inp.weights.gap_frac)
    programme = programme_of(inp, is_cool_minimum_held=inp.is_cool)
    found, is_relaxed = solve(programme, gap), False
    if found is None and inp.is_cool:
        programme, is_relaxed = programme_of(inp, is_cool_minimum_held=False), True
        found = solve(programme, gap)
    if found is None:
        is_relaxed, found = True, Found(np.zeros(programme.columns.n_all), np.inf, Shadow(np.inf, {}))
    plan = _read(inp, programme, found)
    binding = _binding(programme, found.point, found.shadow.price_u)
    return replace(
        plan, violations=_violations(inp, plan), is_relaxed=is_relaxed, binding=binding,
        is_proven=gap.holds(plan.penalty_u, plan.bound_u - ROUNDING),
        freed=freed(inp, binding, bound_u=found.shadow.bound_u),
    )
