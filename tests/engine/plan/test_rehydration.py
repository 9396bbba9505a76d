"""From finish to next start."""

import pytest
from brinebook.engine.plan.rehydration import balancing_ratio_frac, evening_drink, pre_stage_drink_l, rehydration_l


def evening(deficit_l=1.5, *, start_h=16.0, bed_h=6.0, sodium=2000.0):
    return evening_drink(deficit_l, sodium_owed_mg=sodium, hours_to_start_h=start_h, hours_to_bed_h=bed_h)


def test_nothing_owed_means_nothing_to_drink():
    found = evening(-0.3, sodium=-100.0)

    assert (found.drink_l, found.drink_until_bed_l, found.sodium_mg, found.carried_over_l) == (0.0, 0.0, 0.0, 0.0)


def test_a_long_night_asks_for_at_most_a_quarter_more_than_owed():
    assert evening(start_h=16.0).drink_l == pytest.approx(1.25 * 1.5)
    assert 1.25 * 1.5 <= evening(start_h=8.0).drink_l <= 1.5 * 1.5


def test_little_time_until_bed_caps_the_drink_and_carries_the_rest():
    short, long = evening(3.0, bed_h=2.0), evening(3.0, bed_h=9.0)

    assert short.drink_until_bed_l == pytest.approx(0.8)
    assert short.carried_over_l > long.carried_over_l


def test_the_drink_itself_is_salted_only_when_the_start_is_near():
    assert evening(start_h=5.0, bed_h=5.0).drink_sodium_mg_per_l > 900.0
    assert evening(start_h=16.0).drink_sodium_mg_per_l == 0.0


def test_saltier_drinks_need_less_volume():
    assert balancing_ratio_frac(60.0) < balancing_ratio_frac(40.0) < balancing_ratio_frac(20.0)
    assert rehydration_l(1.0, sodium_mmol_per_l=60.0, hours_to_start_h=8.0) < 1.5


def test_the_start_drink_stays_between_five_and_ten_per_kilogram():
    assert pre_stage_drink_l(0.0, mass_kg=70.0) == pytest.approx(0.35)
    assert pre_stage_drink_l(0.5, mass_kg=70.0) == pytest.approx(0.5)
    assert pre_stage_drink_l(3.0, mass_kg=70.0) == pytest.approx(0.70)


def test_a_night_without_meal_water_costs_what_the_body_loses_anyway():
    fed = evening(start_h=12.0)
    dry = evening_drink(1.5, sodium_owed_mg=0.0, hours_to_start_h=12.0, hours_to_bed_h=6.0, meal_water_l_per_h=0.0)

    assert dry.carried_over_l - fed.carried_over_l == pytest.approx(0.6)
