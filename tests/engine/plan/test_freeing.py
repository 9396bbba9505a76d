"""What a plan says would free it does free it, and nothing else is said."""

from dataclasses import replace

import numpy as np
import pytest
from brinebook.engine.plan.bottles import BottlePlanInput, DrinkOption, FoodOption, PlanLimits, plan_bottles

WATER = DrinkOption(bottle_l=0.5, water_frac=1.0)
STANDARD = DrinkOption(bottle_l=0.5, water_frac=0.95, sodium_mg_per_l=600.0, carbohydrate_g_per_l=60.0)
STRONG = DrinkOption(bottle_l=0.5, water_frac=0.97, sodium_mg_per_l=2600.0)


def hot_stage(**changed):
    times_h = np.linspace(0.0, 4.0, 5)
    given = {
        "times_h": times_h, "sweat_q10_l": 1.0 * times_h, "sweat_q50_l": 1.2 * times_h, "sweat_q90_l": 1.5 * times_h,
        "tbw_l": 42.0, "mass_kg": 68.0, "sodium_mmol_per_l": 40.0, "drinks": (WATER, STANDARD),
        "max_bottles_per_feed": np.array([2, 2, 2, 2]), "target_water_l": 3.4, "target_sodium_mg": 2000.0,
    }
    return BottlePlanInput(**(given | changed))


def _codes(plan):
    return [one.code for one in plan.freed]


def test_few_hands_are_freed_by_one_more_feed_or_bottle():
    inp = hot_stage(max_bottles_per_feed=np.array([2, 0, 0, 1]))

    plan = plan_bottles(inp)

    assert "hand_up" in plan.binding
    assert {"feed_point", "second_bottle"} & set(_codes(plan))
    more = plan_bottles(replace(inp, max_bottles_per_feed=np.array([2, 1, 0, 1])))
    assert more.penalty_u < plan.penalty_u


def test_a_riders_own_tested_limit_is_freed_by_another_test():
    plan = plan_bottles(hot_stage(limits=PlanLimits(max_intake_l_per_h=0.4, max_any_hour_l_per_h=0.4)))

    assert "gut_test" in _codes(plan)


def test_a_single_sugar_is_freed_by_mixed_ones():
    food = FoodOption(carbohydrate_g=30.0, sugar="single")
    drink = replace(STANDARD, sugar="single")

    plan = plan_bottles(hot_stage(drinks=(WATER, drink), foods=(food,), carbohydrate_target_g_per_h=85.0))

    assert plan.cumulative_carbohydrate_g[-1] <= 60.0 * 4.0 + 1e-6
    assert {"mixed_sugar"} <= set(_codes(plan))


def test_a_salty_rider_without_salt_is_freed_by_a_stronger_or_an_opened_drink():
    plan = plan_bottles(hot_stage(drinks=(WATER, STANDARD, STRONG), sodium_mmol_per_l=80.0, target_sodium_mg=4000.0))

    assert {"stronger_drink", "open_drink"} & set(_codes(plan))


def test_an_empty_shelf_is_named_and_freed_by_restocking():
    plan = plan_bottles(hot_stage(drinks=(replace(WATER, most_n=1), replace(STANDARD, most_n=1))))

    assert "stock" in plan.binding
    assert plan.bottles.sum() <= 2
    assert "restock" in _codes(plan)


def test_a_plan_that_meets_its_goals_is_held_back_by_nothing():
    plan = plan_bottles(hot_stage(target_water_l=2.0, target_sodium_mg=900.0, mass_kg=150.0))

    assert plan.binding == ()
    assert plan.freed == ()


@pytest.mark.parametrize("odds", [0.6, 0.85])
def test_unsure_feeds_together_bring_no_more_than_the_cages_hold(odds):
    plan = plan_bottles(hot_stage(hand_up_odds_frac=np.array([1.0, odds, odds, 1.0])))

    together = plan.bottles[1:3].sum()
    assert together <= (3 if odds < 0.8 else 4)


def test_a_drink_the_rider_does_not_like_gives_way_to_its_twin():
    liked, other = replace(STANDARD, flavour="lemon"), replace(STANDARD, flavour="cola", taste_u=0.3)

    plan = plan_bottles(hot_stage(drinks=(liked, other)))

    assert plan.bottles[:, 1].sum() < plan.bottles[:, 0].sum()


def test_four_of_one_flavour_in_a_row_are_parted_when_it_costs_nothing():
    lemon, cola = replace(STANDARD, flavour="lemon"), replace(STANDARD, flavour="cola")

    plan = plan_bottles(hot_stage(drinks=(lemon, cola), max_bottles_per_feed=np.array([2, 1, 1, 2])))

    for first in range(4):
        block = plan.bottles[first : first + 4]
        assert block[:, 0].sum() <= 3 + 3 * block[:, 1].sum() or block[:, 1].sum() <= 3 + 3 * block[:, 0].sum()


def test_a_loss_that_comes_late_holds_the_drinking_back_between_the_feeds():
    times_h = np.array([0.0, 3.0])
    road_h = np.linspace(0.0, 3.0, 31)
    late_l = 1.6 * np.clip(road_h - 2.0, 0.0, None)
    inp = hot_stage(times_h=times_h, sweat_q10_l=np.array([0.0, 1.6]), sweat_q50_l=np.array([0.0, 2.0]),
                    sweat_q90_l=np.array([0.0, 2.4]), max_bottles_per_feed=np.array([3]), target_water_l=1.5,
                    road_h=road_h, road_q10_l=late_l)

    plan = plan_bottles(inp)

    drunk_l = np.interp(road_h, times_h, [0.0, plan.cumulative_water_l[-1]])
    assert (drunk_l <= late_l + 0.25 + 1e-6).all()
    assert plan.cumulative_water_l[-1] < plan_bottles(replace(inp, road_h=None, road_q10_l=None)).cumulative_water_l[-1]


def test_salty_food_from_a_feed_that_may_be_missed_never_carries_the_floor():
    salty = FoodOption(carbohydrate_g=5.0, sodium_mg=900.0)
    inp = hot_stage(drinks=(WATER,), foods=(salty,), plasma_sodium_mmol_per_l=138.2, sodium_mmol_per_l=70.0)

    sure = plan_bottles(inp)
    unsure = plan_bottles(replace(inp, hand_up_odds_frac=np.array([1.0, 0.85, 0.85, 0.85])))

    # Kurtz and Nguyen at q10, without a grain of what was eaten after the start.
    lost_mmol = 75.0 * inp.sweat_q10_l[1:]
    eaten_mmol = unsure.eaten[0, 0] * 900.0 / 22.98977
    plasma = ((138.2 + 23.8) * 42.0 + 1.03 * (eaten_mmol - lost_mmol)) / (
        42.0 + unsure.cumulative_water_l - inp.sweat_q10_l[1:]) - 23.8
    assert plasma.min() >= 138.0 - 1e-4
    assert unsure.cumulative_water_l[-1] < sure.cumulative_water_l[-1] - 0.05
