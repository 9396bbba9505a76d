"""Plans by example: what opens, what gives way, what is said."""

from dataclasses import replace

import numpy as np
import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.plan.balance import targets
from brinebook.engine.plan.bottles import BottlePlanInput, DrinkOption, FoodOption, PlanLimits, plan_bottles

WATER = DrinkOption(bottle_l=0.5, water_frac=1.0)
STANDARD = DrinkOption(bottle_l=0.5, water_frac=0.95, sodium_mg_per_l=800.0, carbohydrate_g_per_l=80.0)
STRONG = DrinkOption(bottle_l=0.5, water_frac=0.97, sodium_mg_per_l=3000.0, carbohydrate_g_per_l=40.0)
RICE_CAKE = FoodOption(carbohydrate_g=35.0, sodium_mg=150.0, water_l=0.03)
GEL = FoodOption(carbohydrate_g=30.0, sodium_mg=30.0, water_l=0.02)


def stage(*, rate_l_per_h=1.0, duration_h=4.5, n_segments=6, sodium_mmol_per_l=40.0, **changed):
    times_h = np.linspace(0.0, duration_h, n_segments + 1)
    aim = targets(rate_l_per_h * duration_h, mass_kg=68.0, sodium_mmol_per_l=sodium_mmol_per_l)
    given = {
        "times_h": times_h, "sweat_q10_l": 0.8 * rate_l_per_h * times_h, "sweat_q50_l": rate_l_per_h * times_h,
        "sweat_q90_l": 1.25 * rate_l_per_h * times_h, "tbw_l": 42.26, "mass_kg": 68.0,
        "sodium_mmol_per_l": sodium_mmol_per_l, "drinks": (WATER, STANDARD), "foods": (RICE_CAKE, GEL),
        "max_bottles_per_feed": np.array([3] + [2] * (n_segments - 1)),
        "target_water_l": aim.water_l, "target_sodium_mg": aim.sodium_mg, "carbohydrate_target_g_per_h": 75.0,
        "is_sodium_needed": aim.needed_sodium_share_frac > 0.0,
    }
    return BottlePlanInput(**(given | changed))


def test_an_ordinary_stage_meets_its_targets_without_complaint():
    inp = stage()

    plan = plan_bottles(inp)

    assert plan.cumulative_water_l[-1] == pytest.approx(inp.target_water_l, abs=0.1)
    assert plan.cumulative_sodium_mg[-1] == pytest.approx(inp.target_sodium_mg, abs=100.0)
    assert plan.cumulative_carbohydrate_g[-1] >= 75.0 * 4.5 - 6.0 * 4.5
    assert plan.violations == ()
    assert not plan.is_relaxed


def test_a_drink_beyond_the_ceiling_is_not_offered_by_default():
    plan = plan_bottles(stage(drinks=(WATER, STRONG), sodium_mmol_per_l=70.0))

    assert plan.bottles[:, 1].sum() == 0


def test_an_opened_strong_drink_comes_with_water_in_the_same_segment():
    limits = PlanLimits(max_drink_sodium_mg_per_l=3000.0)

    plan = plan_bottles(stage(drinks=(WATER, STRONG), foods=(), sodium_mmol_per_l=70.0, limits=limits))

    assert plan.bottles[:, 1].sum() > 0
    mixed = plan.drunk_l @ np.array([0.0, 3000.0]) - 1500.0 * plan.drunk_l.sum(axis=1)
    assert mixed.max() <= 1e-3


def test_without_water_on_offer_an_opened_strong_drink_stays_shut():
    limits = PlanLimits(max_drink_sodium_mg_per_l=3000.0)

    plan = plan_bottles(stage(drinks=(STANDARD, STRONG), sodium_mmol_per_l=70.0, limits=limits))

    assert plan.drunk_l[:, 1].sum() == pytest.approx(0.0, abs=1e-9)


def test_a_thick_drink_beyond_twelve_percent_is_never_offered():
    thick = DrinkOption(bottle_l=0.5, water_frac=0.9, carbohydrate_g_per_l=130.0)

    plan = plan_bottles(stage(drinks=(WATER, thick), limits=PlanLimits(max_drink_carbohydrate_g_per_l=160.0)))

    assert plan.bottles[:, 1].sum() == 0


def test_no_hand_up_late_in_the_stage_is_named_as_what_binds():
    plan = plan_bottles(stage(rate_l_per_h=1.4, max_bottles_per_feed=np.array([2, 0, 0, 0, 0, 0])))

    assert "hand_up" in plan.binding
    assert plan.violations[0].quantity == "deficit_frac"


def test_a_cool_minimum_out_of_reach_gives_way_and_is_said():
    plan = plan_bottles(stage(rate_l_per_h=1.2, is_cool=True, max_bottles_per_feed=np.array([2, 0, 0, 0, 0, 0])))

    assert plan.is_relaxed
    assert plan.cumulative_water_l[-1] > 0.5


def test_low_plasma_sodium_at_the_start_means_nothing_to_drink_and_a_violation():
    plan = plan_bottles(stage(plasma_sodium_mmol_per_l=132.0))

    assert plan.drunk_l.sum() == 0.0
    assert plan.is_relaxed
    assert "plasma_low_mmol_per_l" in {violation.quantity for violation in plan.violations}


def test_a_rider_who_does_not_sweat_gets_nothing_but_what_the_limits_leave():
    plan = plan_bottles(stage(rate_l_per_h=0.0, carbohydrate_target_g_per_h=0.0, target_sodium_mg=0.0))

    assert plan.cumulative_water_l[-1] == pytest.approx(0.0, abs=1e-9)
    assert plan.bottles.sum() == 0


def test_no_drinks_and_no_foods_still_get_a_plan():
    plan = plan_bottles(stage(drinks=(), foods=()))

    assert plan.bottles.shape == (6, 0)
    assert plan.cumulative_water_l[-1] == 0.0


def test_a_bottle_is_never_drunk_before_it_is_handed_up():
    inp = stage()

    plan = plan_bottles(inp)

    left_l = np.cumsum(plan.bottles * 0.5 - plan.drunk_l, axis=0)
    assert left_l.min() >= -1e-6


@pytest.mark.parametrize("change", [
    {"sweat_q10_l": np.array([0.0, 1.0, 0.9, 1.1, 1.2, 1.3, 1.4])},
    {"sweat_q10_l": np.linspace(0.0, 9.0, 7)},
    {"times_h": np.zeros(7)},
    {"tbw_l": float("nan")},
    {"max_bottles_per_feed": np.array([2])},
], ids=["falling", "crossing", "standing", "nan", "shape"])
def test_the_impossible_is_refused(change):
    inp = replace(stage(), **change)

    with pytest.raises(UnphysicalInput):
        plan_bottles(inp)
