"""Which bottle at which feed: solve the programme, read the plan, say which limit holds it back."""

from dataclasses import replace

import numpy as np

from brinebook.engine.constants import balance as c
from brinebook.engine.errors import UnphysicalInput, physical, physical_positive
from brinebook.engine.plan.balance import plasma_sodium_mmol_per_l
from brinebook.engine.plan.programme import Matrix, Programme, allowed_water_l, programme_of
from brinebook.engine.plan.search import solve
from brinebook.engine.plan.terms import BottlePlan, BottlePlanInput, DrinkOption, FoodOption, PlanLimits, PlanWeights
from brinebook.engine.units import sodium_mmol
from brinebook.engine.validity import Violation, range_violations

__all__ = [
    "BottlePlan", "BottlePlanInput", "DrinkOption", "FoodOption", "PlanLimits", "PlanWeights",
    "allowed_water_l", "plan_bottles",
]
MODEL = "bottle_plan"
ROUNDING = float(np.sqrt(np.finfo(np.float64).eps))
WATER_CODES = {"mean_rate", "any_hour", "stomach", "water_q10", "plasma_floor", "hand_up", "cages"}
SODIUM_CODES = {"sodium_per_h", "sodium_total", "water_with_strong"}
FUEL_CODES = {"carbohydrate"}


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
    if len(inp.max_bottles_per_feed) != len(inp.times_h) - 1:
        raise UnphysicalInput("max_bottles_per_feed", float(len(inp.max_bottles_per_feed)))
    physical("max_bottles_per_feed", inp.max_bottles_per_feed, low=0.0)


def _binding(inp: BottlePlanInput, programme: Programme, point: Matrix) -> tuple[str, ...]:
    """Codes of the limits without room left, for those of water, sodium and carbohydrate that fell short."""
    rows, columns = programme.rows, programme.columns
    room = np.concatenate(rows.high) - np.vstack(rows.coefficients) @ point
    is_near = room <= np.array(rows.near) + ROUNDING
    near = {code for code, is_close in zip(rows.codes, is_near, strict=True) if is_close}
    is_dry = point[columns.water_off[1]] > c.WATER_STEP_L / 2.0
    is_dry = is_dry or point[columns.deficit].max(initial=0.0) > c.DEFICIT_STEP_FRAC
    is_short_of_sodium = point[columns.sodium_off[1]] > c.SODIUM_STEP_MG / 2.0
    is_short_of_fuel = point[columns.carbohydrate_short] > c.CARBOHYDRATE_STEP_G_PER_H / 2.0
    shown: set[str] = set()
    for is_short, codes in ((is_dry, WATER_CODES), (is_short_of_sodium, SODIUM_CODES), (is_short_of_fuel, FUEL_CODES)):
        shown |= codes & near if is_short else set()
    if inp.is_cool and "cool_minimum" in near:
        shown.add("cool_minimum")
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


def _read(inp: BottlePlanInput, programme: Programme, point: Matrix) -> BottlePlan:
    """Turn a point of the programme into a plan."""
    columns = programme.columns
    water_l, sodium_mg = programme.water @ point, programme.sodium @ point
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
        cumulative_water_l=water_l,
        cumulative_sodium_mg=sodium_mg,
        cumulative_carbohydrate_g=programme.carbohydrate @ point,
        deficit_frac=(inp.sweat_q50_l[1:] - water_l) / inp.mass_kg,
        plasma_low_mmol_per_l=np.minimum(*ends),
        plasma_high_mmol_per_l=np.maximum(*ends),
        penalty_u=float(programme.cost @ point),
        binding=_binding(inp, programme, point),
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
    The same input gives the same plan: the search counts nodes, not seconds.

    References
    ----------
    .. [1] Source key ``balance_pin``, section 11.
    """
    _check(inp)
    programme = programme_of(inp, is_cool_minimum_held=inp.is_cool)
    is_timing_free = not inp.limits.is_every_bottle_emptied
    point, is_relaxed = solve(programme, is_timing_free=is_timing_free), False
    if point is None and inp.is_cool:
        programme, is_relaxed = programme_of(inp, is_cool_minimum_held=False), True
        point = solve(programme, is_timing_free=is_timing_free)
    if point is None:
        is_relaxed, point = True, np.zeros(programme.columns.n_all)
    plan = _read(inp, programme, point)
    return replace(plan, violations=_violations(inp, plan), is_relaxed=is_relaxed)
