"""What holds for every plan: the hard limits, whatever the rider, the road and the offer."""

from dataclasses import replace

import numpy as np
import pytest
from brinebook.engine.plan.balance import plasma_sodium_mmol_per_l, targets
from brinebook.engine.plan.bottles import (
    BottlePlanInput,
    DrinkOption,
    FoodOption,
    PlanLimits,
    allowed_water_l,
    plan_bottles,
)
from brinebook.engine.plan.drinks import water_fraction_frac
from brinebook.engine.plan.gut import stomach_l
from brinebook.engine.units import sodium_mg, sodium_mmol
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

# The solver keeps rows to 1e-6 of their unit; a drop, a grain and a crumb stay far below what anyone can measure.
DROP_L, GRAIN_MG, CRUMB_G, TRACE_MMOL_PER_L = 1e-5, 1e-2, 1e-3, 1e-4
WATER = DrinkOption(bottle_l=0.5, water_frac=1.0)
FEW = settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])


@st.composite
def drinks(draw):
    def one():
        carbohydrate = draw(st.sampled_from([0.0, 40.0, 60.0, 80.0, 100.0]))
        return DrinkOption(
            bottle_l=draw(st.sampled_from([0.5, 0.6, 0.75])), water_frac=water_fraction_frac(carbohydrate),
            sodium_mg_per_l=draw(st.sampled_from([0.0, 300.0, 800.0, 1500.0, 3000.0])),
            carbohydrate_g_per_l=carbohydrate,
        )
    others = tuple(one() for _ in range(draw(st.integers(0, 2))))
    return (WATER, *others) if draw(st.booleans()) or not others else others


@st.composite
def stages(draw):
    widths_h = np.array(draw(st.lists(st.floats(0.2, 1.4), min_size=1, max_size=6)))
    times_h = np.concatenate([[0.0], widths_h.cumsum()])
    rates = np.array([draw(st.floats(0.1, 2.0)) for _ in widths_h])
    median_l = np.concatenate([[0.0], (rates * widths_h).cumsum()])
    low, high = draw(st.floats(0.5, 1.0)), draw(st.floats(1.0, 1.6))
    mass_kg, sodium = draw(st.floats(48.0, 85.0)), draw(st.floats(10.0, 90.0))
    aim = targets(float(median_l[-1]), mass_kg=mass_kg, sodium_mmol_per_l=sodium)
    return BottlePlanInput(
        times_h=times_h, sweat_q10_l=low * median_l, sweat_q50_l=median_l, sweat_q90_l=high * median_l,
        tbw_l=0.6 * mass_kg, mass_kg=mass_kg, sodium_mmol_per_l=sodium, drinks=draw(drinks()),
        foods=(FoodOption(carbohydrate_g=35.0, sodium_mg=draw(st.floats(0.0, 400.0)), water_l=0.03),),
        max_bottles_per_feed=np.array([draw(st.integers(0, 3)) for _ in widths_h]),
        target_water_l=aim.water_l, target_sodium_mg=aim.sodium_mg,
        carbohydrate_target_g_per_h=draw(st.sampled_from([0.0, 60.0, 90.0])),
        is_cool=draw(st.booleans()), is_sodium_needed=aim.needed_sodium_share_frac > 0.0,
        limits=PlanLimits(
            max_drink_sodium_mg_per_l=draw(st.sampled_from([1500.0, 3000.0])),
            max_drink_carbohydrate_g_per_l=draw(st.sampled_from([80.0, 120.0])),
            max_intake_l_per_h=draw(st.sampled_from([0.6, 1.0])),
            is_every_bottle_emptied=draw(st.booleans()),
        ),
    )


def _in_any_hour(times_h, per_segment):
    """Most of a quantity in an hour beginning anywhere, each segment spread evenly; a fine grid, not the corners."""
    total = np.concatenate([[0.0], np.cumsum(per_segment)])
    begins = np.arange(0.0, max(times_h[-1] - 1.0, 0.0) + 0.01, 0.01)
    return max(np.interp(begins + 1.0, times_h, total) - np.interp(begins, times_h, total))


def _per_segment(inp, plan, drink_field, food_field):
    per_drink = np.array([getattr(drink, drink_field) for drink in inp.drinks])
    per_food = np.array([getattr(food, food_field) for food in inp.foods])
    return plan.drunk_l @ per_drink + plan.eaten @ per_food


@FEW
@given(stages())
def test_hard_limits_hold_on_any_plan(inp):
    plan = plan_bottles(inp)

    limits, stage_h = inp.limits, inp.times_h[-1]
    water = _per_segment(inp, plan, "water_frac", "water_l").cumsum()
    sodium = _per_segment(inp, plan, "sodium_mg_per_l", "sodium_mg")
    fuel = _per_segment(inp, plan, "carbohydrate_g_per_l", "carbohydrate_g")
    drunk = plan.drunk_l.sum(axis=1)
    np.testing.assert_allclose(plan.cumulative_water_l, water, atol=1e-9)
    assert (water <= inp.sweat_q10_l[1:] + 0.25 + DROP_L).all()
    assert water[-1] <= inp.sweat_q10_l[-1] + DROP_L
    assert drunk.sum() <= limits.max_intake_l_per_h * stage_h + DROP_L
    assert _in_any_hour(inp.times_h, drunk) <= 1.2 + DROP_L
    assert _in_any_hour(inp.times_h, sodium) <= 1000.0 + GRAIN_MG
    assert sodium.sum() <= sodium_mg(inp.sodium_mmol_per_l * inp.sweat_q50_l[-1]) + GRAIN_MG
    assert fuel.sum() <= 90.0 * stage_h + CRUMB_G
    assert (fuel <= 90.0 * np.diff(inp.times_h) + 15.0 + CRUMB_G).all()
    assert stomach_l(inp.times_h, drunk_l=drunk).max() <= 0.6 + DROP_L


@FEW
@given(stages())
def test_plasma_sodium_stays_above_its_floor_at_both_ends_of_the_forecast(inp):
    plan = plan_bottles(inp)

    water = _per_segment(inp, plan, "water_frac", "water_l").cumsum()
    taken = sodium_mmol(_per_segment(inp, plan, "sodium_mg_per_l", "sodium_mg").cumsum())
    lowest = min(
        np.min(plasma_sodium_mmol_per_l(
            inp.tbw_l, water_gain_l=water - sweat_l,
            cation_gain_mmol=taken - (inp.sodium_mmol_per_l + 5.0) * sweat_l,
        ))
        for sweat_l in (inp.sweat_q10_l[1:], inp.sweat_q50_l[1:], inp.sweat_q90_l[1:])
    )
    assert lowest >= 138.0 - TRACE_MMOL_PER_L
    assert plan.plasma_low_mmol_per_l.min() >= lowest - 1e-9


@FEW
@given(stages())
def test_bottles_fit_hands_and_cages_and_strong_ones_come_with_water(inp):
    plan = plan_bottles(inp)

    bottle_l = np.array([drink.bottle_l for drink in inp.drinks])
    left = np.cumsum(plan.bottles * bottle_l - plan.drunk_l, axis=0) / bottle_l
    carried = np.vstack([np.zeros(len(bottle_l)), np.ceil(left[:-1] - 1e-4)]).sum(axis=1) + plan.bottles.sum(axis=1)
    assert (plan.bottles.sum(axis=1) <= inp.max_bottles_per_feed).all()
    assert left.min(initial=0.0) >= -DROP_L
    assert carried.max() <= inp.limits.n_carried
    sodium = np.array([drink.sodium_mg_per_l for drink in inp.drinks])
    is_counted = (sodium > 1500.0) | np.array([
        drink.sodium_mg_per_l == 0.0 and drink.carbohydrate_g_per_l == 0.0 for drink in inp.drinks
    ])
    assert (plan.drunk_l[:, is_counted] @ (sodium[is_counted] - 1500.0)).max(initial=0.0) <= GRAIN_MG
    assert plan.bottles[:, sodium > inp.limits.max_drink_sodium_mg_per_l].sum() == 0


@settings(max_examples=100, deadline=None, derandomize=True)
@given(stages(), st.floats(1.0, 2.0))
def test_more_sweat_never_means_less_water_allowed(inp, more):
    wetter = replace(
        inp, sweat_q10_l=more * inp.sweat_q10_l, sweat_q50_l=more * inp.sweat_q50_l, sweat_q90_l=more * inp.sweat_q90_l,
    )

    assert (allowed_water_l(wetter) >= allowed_water_l(inp)).all()


@settings(max_examples=8, deadline=None, derandomize=True)
@given(stages())
def test_the_same_input_gives_the_same_bytes(inp):
    once, again = plan_bottles(inp), plan_bottles(inp)

    for name in ("bottles", "foods", "drunk_l", "cumulative_water_l", "cumulative_sodium_mg", "plasma_low_mmol_per_l"):
        assert getattr(once, name).tobytes() == getattr(again, name).tobytes()
    assert (once.binding, once.violations, once.penalty_u) == (again.binding, again.violations, again.penalty_u)


@given(st.floats(30.0, 60.0), st.floats(-3.0, 2.0), st.floats(-400.0, 200.0))
def test_two_half_changes_of_the_body_equal_one(tbw_l, water_l, cations_mmol):
    whole = plasma_sodium_mmol_per_l(tbw_l, water_gain_l=water_l, cation_gain_mmol=cations_mmol)

    half = plasma_sodium_mmol_per_l(tbw_l, water_gain_l=water_l / 2, cation_gain_mmol=cations_mmol / 2)
    twice = plasma_sodium_mmol_per_l(
        tbw_l + water_l / 2, water_gain_l=water_l / 2, cation_gain_mmol=cations_mmol / 2, start_mmol_per_l=half,
    )

    assert twice == pytest.approx(whole, abs=1e-9)
