"""Blends and the pocket rule, the trade's own facts included."""

import numpy as np
import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.plan.drinks import blend_frac, mixed_mg_per_l, pocket_rule, water_fraction_frac
from brinebook.engine.units import sodium_mmol


def rule(target_mg_per_l, *, base=800.0, salty=3000.0, spread=0.1, **food):
    middle = sodium_mmol(target_mg_per_l)
    return pocket_rule(
        middle, spread_mmol_per_l=(middle * (1 - spread), middle * (1 + spread)), base_mg_per_l=base,
        salty_mg_per_l=salty, **food,
    )


def test_a_rider_at_1080_takes_one_salty_bottle_in_seven_or_eight():
    found = rule(1080.0)

    assert found.code == "every_nth_salty"
    assert 7.0 <= found.one_in_n <= 8.0
    assert found.one_in_n_low < found.one_in_n < found.one_in_n_high


def test_a_rider_at_400_alternates_bottle_and_water():
    found = rule(400.0)

    assert found.code == "alternate_water"
    assert found.one_in_n == pytest.approx(2.0)


def test_salty_food_stands_in_for_the_salty_bottle():
    found = rule(1080.0, food_sodium_mg=150.0)

    assert found.food_units_per_salty_bottle == pytest.approx((3000.0 - 800.0) * 0.5 / 150.0)


@pytest.mark.parametrize(("target", "salty", "code"), [
    (810.0, 3000.0, "standard_only"), (2950.0, 3000.0, "all_salty"), (1400.0, 1500.0, "every_nth_salty"),
    (1490.0, 1500.0, "all_salty"), (1700.0, 1500.0, "no_blend"), (1080.0, None, "no_blend"),
])
def test_the_rule_names_the_case(target, salty, code):
    assert rule(target, salty=salty).code == code


def test_a_spread_that_reaches_the_standard_bottle_has_no_upper_count():
    found = rule(900.0, spread=0.15)

    assert found.one_in_n_high is None
    assert found.one_in_n_low is not None


def test_a_blend_is_as_salty_as_aimed_at():
    share = blend_frac(460.0, strong_mg_per_l=1500.0, target_mg_per_l=900.0)

    assert mixed_mg_per_l((460.0, 1500.0), volumes_l=(1 - share, share)) == pytest.approx(900.0)


def test_a_target_outside_the_two_drinks_is_refused():
    with pytest.raises(UnphysicalInput):
        blend_frac(460.0, strong_mg_per_l=1500.0, target_mg_per_l=1600.0)


def test_more_sugar_leaves_less_room_for_water():
    assert np.all(np.diff(water_fraction_frac(np.array([0.0, 40.0, 80.0, 120.0]))) < 0.0)
