"""Heat adaptation, effort and method: optional, and never silent."""

import math

import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.measure.modifiers import adaptation_frac, intensity_transfer
from brinebook.engine.measure.sodium_estimate import SodiumTest, sodium_estimate
from hypothesis import given, settings
from hypothesis import strategies as st

FRESH = SodiumTest(0.0, (58.0, 64.0))
FEW = settings(max_examples=60, deadline=None)


def test_ten_days_of_heat_adapt_a_rider_almost_wholly_and_a_month_without_loses_half():
    after_ten = adaptation_frac(range(10), at_day=9.0)

    assert 0.8 < after_ten < 0.95
    assert adaptation_frac(range(10), at_day=9.0 + 28.0) == pytest.approx(after_ten * math.exp(-28.0 / 40.0))


def test_heat_still_to_come_adapts_no_one():
    assert adaptation_frac([5.0, 6.0], at_day=4.0) == 0.0
    assert adaptation_frac([], at_day=4.0) == 0.0


@FEW
@given(st.lists(st.floats(0.0, 100.0), max_size=30), st.floats(0.0, 150.0), st.floats(0.0, 100.0))
def test_more_heat_never_means_less_adaptation(days, at_day, one_more):
    before = adaptation_frac(days, at_day=at_day)
    after = adaptation_frac([*days, one_more], at_day=at_day)

    assert 0.0 <= before <= after + 1e-12 <= 1.0 + 1e-12


def test_a_rider_adapted_for_the_race_sweats_less_sodium_than_in_his_test():
    plain = sodium_estimate([FRESH], at_day=0.0)
    adapted = sodium_estimate([FRESH], at_day=0.0, adaptation_frac=1.0)

    assert adapted.forearm_median_mmol_per_l == pytest.approx(plain.forearm_median_mmol_per_l * math.exp(-0.35))
    assert adapted.log_sd == plain.log_sd


def test_an_adapted_test_of_an_adapted_rider_says_about_what_it_read():
    both = sodium_estimate([SodiumTest(0.0, (58.0, 64.0), adaptation_frac=1.0)], at_day=0.0, adaptation_frac=1.0)
    raw = sodium_estimate([FRESH], at_day=0.0)

    assert both.forearm_median_mmol_per_l == pytest.approx(raw.forearm_median_mmol_per_l, rel=0.04)


@pytest.mark.parametrize("wrong", [-0.1, 1.1, float("nan")])
def test_an_adaptation_outside_nought_to_one_is_refused(wrong):
    with pytest.raises(UnphysicalInput, match="adaptation_frac"):
        sodium_estimate([FRESH], at_day=0.0, adaptation_frac=wrong)


def test_a_hard_test_is_scaled_down_to_a_steady_race_and_doubted_for_it():
    transfer = intensity_transfer(test_rate_l_per_h=1.6, race_rate_l_per_h=1.0)
    moved = SodiumTest(0.0, (58.0, 64.0), transfer.extra_log_variance, intensity_log=transfer.shift_log)

    assert transfer.shift_log == pytest.approx(0.5 * math.log(1.0 / 1.6))
    assert transfer.extra_log_variance == pytest.approx((0.3 * math.log(1.6)) ** 2)
    plain, steady = sodium_estimate([FRESH], at_day=0.0), sodium_estimate([moved], at_day=0.0)
    assert steady.mean_mmol_per_l < plain.mean_mmol_per_l
    assert steady.log_sd > plain.log_sd


def test_effort_is_clipped_and_an_unknown_rate_only_widens():
    clipped = intensity_transfer(test_rate_l_per_h=0.2, race_rate_l_per_h=2.0)
    assert clipped.shift_log == pytest.approx(0.5 * math.log(2.0))
    unknown = intensity_transfer(test_rate_l_per_h=1.2)
    assert (unknown.shift_log, unknown.extra_log_variance) == (0.0, pytest.approx(0.0225))


def test_a_conductivity_test_beside_a_sodium_reading_is_left_out_and_said():
    alone = sodium_estimate([FRESH], at_day=0.0)
    mixed = sodium_estimate([SodiumTest(-3.0, (90.0, 92.0), method="conductivity"), FRESH], at_day=0.0)

    assert mixed.codes == ("METHOD_MISMATCH",)
    assert mixed.mean_mmol_per_l == alone.mean_mmol_per_l
    assert mixed.weights_frac == (0.0, *alone.weights_frac)


def test_conductivity_alone_is_used_and_said():
    assert sodium_estimate([SodiumTest(0.0, (60.0,), method="conductivity")], at_day=0.0).codes == (
        "COND_ONLY", "SINGLE_ARM")


def test_an_old_test_is_called_stale_and_a_fresh_one_is_not():
    assert sodium_estimate([FRESH], at_day=60.5).codes == ("STALE",)
    assert sodium_estimate([FRESH, SodiumTest(50.0, (60.0, 61.0))], at_day=60.5).codes == ()
    assert sodium_estimate([], at_day=0.0).codes == ()
