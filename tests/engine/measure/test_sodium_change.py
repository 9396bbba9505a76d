"""Has this rider changed?"""

import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.measure.sodium_change import sodium_change
from brinebook.engine.measure.sodium_estimate import SodiumTest, reference_change_frac


def _test(level, **more):
    return SodiumTest(0.0, (level, level), **more)


@pytest.mark.parametrize(("after", "is_changed"), [(57.0, False), (59.0, True), (28.0, False), (27.0, True)])
def test_two_arms_twice_may_rise_45_or_fall_31_percent_by_chance(after, is_changed):
    change = sodium_change(_test(40.0), _test(after))

    assert change.is_changed is is_changed
    assert (change.rise_frac, change.fall_frac) == pytest.approx(reference_change_frac(0.1327), abs=0.005)


def test_a_doubtful_sample_needs_a_larger_change():
    assert sodium_change(_test(40.0), _test(60.0)).is_changed
    assert not sodium_change(_test(40.0), _test(60.0, extra_log_variance=0.04)).is_changed


def test_a_fall_that_heat_explains_is_no_change_of_the_rider():
    assert sodium_change(_test(60.0), _test(40.0)).is_changed
    assert not sodium_change(_test(60.0), _test(40.0, adaptation_frac=0.9)).is_changed


def test_conductivity_is_not_compared_with_sodium():
    with pytest.raises(UnphysicalInput, match="method"):
        sodium_change(_test(40.0), _test(60.0, method="conductivity"))
