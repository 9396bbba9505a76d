"""A rider's own line of mornings: odd readings and illness do not move it, and a slow drift does."""

import numpy as np
import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.settle.monitoring import Morning, mass_reading, morning_baseline
from hypothesis import given, settings
from hypothesis import strategies as st


def _line(masses, *, ill=()):
    return [Morning(float(day), mass, is_ill=day in ill) for day, mass in enumerate(masses)]


def test_the_line_is_the_median_of_the_last_seven_mornings():
    found = morning_baseline(_line([70.0, 70.0, 68.0, 68.1, 68.2, 68.3, 68.4, 68.5, 68.6]), before_day=9.0)

    assert (found.rolling_kg, found.n_mornings) == (68.3, 7)


def test_only_mornings_before_the_day_count():
    assert morning_baseline(_line([68.0, 68.0, 68.0, 60.0]), before_day=3.0).rolling_kg == 68.0


def test_a_typing_error_is_left_out():
    found = morning_baseline(_line([68.0, 68.2, 86.0, 68.1, 68.0]), before_day=9.0)

    assert found.rolling_kg == pytest.approx(68.05)
    assert found.n_left_out == 1


def test_a_slow_drift_moves_the_rolling_line_and_not_the_one_of_the_race_start():
    found = morning_baseline(_line(70.0 - 0.05 * np.arange(30)), before_day=30.0, race_start_day=9.0)

    assert found.race_start_kg == pytest.approx(70.0 - 0.05 * 5)
    assert found.rolling_kg == pytest.approx(70.0 - 0.05 * 26)


def test_after_an_ill_day_the_line_stays_until_five_well_mornings_stand():
    masses = [68.0] * 8 + [65.5] + [66.0] * 6
    frozen = morning_baseline(_line(masses, ill={8}), before_day=13.0)
    free = morning_baseline(_line(masses, ill={8}), before_day=14.0)

    assert (frozen.rolling_kg, frozen.is_frozen) == (68.0, True)
    assert (free.rolling_kg, free.is_frozen) == (66.0, False)


def test_days_of_one_illness_count_as_one():
    found = morning_baseline(_line([68.0] * 6 + [65.0, 65.0, 65.0], ill={6, 7, 8}), before_day=9.0)

    assert (found.rolling_kg, found.is_frozen) == (68.0, True)


def test_two_mornings_are_no_line():
    with pytest.raises(UnphysicalInput, match="n_mornings"):
        morning_baseline(_line([68.0, 68.0]), before_day=9.0)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.floats(60.0, 61.5), min_size=4, max_size=20), st.integers(0, 19), st.floats(50.0, 75.0))
def test_one_odd_morning_moves_the_line_by_less_than_the_spread_of_the_others(masses, place, odd):
    clean = morning_baseline(_line(masses), before_day=99.0).rolling_kg
    masses[place % len(masses)] = odd

    found = morning_baseline(_line(masses), before_day=99.0).rolling_kg

    assert abs(found - clean) <= 1.5
    assert 60.0 <= found <= 61.5


def test_a_reading_says_more_the_larger_the_deficit():
    shares = [mass_reading(-deficit).true_frac for deficit in (0.0, 0.005, 0.01, 0.02, 0.03)]

    assert shares == sorted(shares)
    assert shares[0] == pytest.approx(mass_reading(0.0).false_frac)
