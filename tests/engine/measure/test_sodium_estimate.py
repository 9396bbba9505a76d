"""Order, arms and sites of sodium tests."""

import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.measure.sodium_estimate import SodiumTest, reference_change_frac, sodium_estimate

A, B = SodiumTest(-30.0, (60.0, 58.0)), SodiumTest(-2.0, (50.0,), 0.01)


def test_the_order_of_tests_does_not_matter():
    one, other = sodium_estimate([A, B], at_day=0.0), sodium_estimate([B, A], at_day=0.0)

    assert one.mean_mmol_per_l == pytest.approx(other.mean_mmol_per_l)
    assert one.weights_frac == pytest.approx(other.weights_frac[::-1])


def test_a_high_test_keeps_its_interval_inside_the_possible():
    assert sodium_estimate([SodiumTest(0.0, (140.0, 140.0))] * 3, at_day=0.0).high_mmol_per_l <= 105.0


def test_a_ventral_forearm_without_a_test_is_lower_and_less_sure():
    dorsal = sodium_estimate([], at_day=0.0)
    ventral = sodium_estimate([], at_day=0.0, site="ventral_forearm")

    assert ventral.forearm_median_mmol_per_l < dorsal.forearm_median_mmol_per_l
    assert ventral.sd_mmol_per_l > dorsal.sd_mmol_per_l


@pytest.mark.parametrize("tests", [[SodiumTest(0.0, ())], [SodiumTest(0.0, (0.0,))], [SodiumTest(0.0, (50.0,), -1.0)]])
def test_a_test_that_cannot_be_is_refused(tests):
    with pytest.raises(UnphysicalInput):
        sodium_estimate(tests, at_day=0.0)


def test_a_thigh_carries_no_estimate():
    with pytest.raises(UnphysicalInput, match="thigh"):
        sodium_estimate([], at_day=0.0, site="thigh")


def test_two_usual_tests_may_differ_by_45_percent_up_and_31_down():
    assert reference_change_frac(0.133) == pytest.approx((0.45, -0.31), abs=0.01)
