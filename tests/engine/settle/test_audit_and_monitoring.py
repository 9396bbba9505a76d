"""Audit of settled stages and the morning check."""

import numpy as np
import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.settle.audit import forecast_audit
from brinebook.engine.settle.monitoring import morning_check_count


def test_the_audit_tells_bias_error_and_coverage():
    middle = np.array([4.0, 5.0, 6.0, 7.0])

    audit = forecast_audit(middle - 1.0, middle, middle + 1.0, middle + np.array([0.5, -0.5, 1.0, 2.0]))

    assert audit.bias_l == pytest.approx(-0.75)
    assert audit.mean_absolute_error_l == pytest.approx(1.0)
    assert audit.coverage_80_frac == 0.75


@pytest.mark.parametrize("settled", [[], [1.0, 2.0], [float("nan")]])
def test_an_audit_of_nothing_or_of_unlike_lengths_is_refused(settled):
    low = [1.0] if settled else []

    with pytest.raises(UnphysicalInput):
        forecast_audit(low, low, low, settled)


def test_a_marker_not_taken_counts_as_negative():
    result = morning_check_count(-0.02, None, None)

    assert (result.n_positive, result.word, result.is_mass_up) == (1, "possible", False)


def test_a_risen_mass_is_a_flag_of_its_own_and_no_sign_of_dehydration():
    result = morning_check_count(0.015, 3, 2)

    assert (result.n_positive, result.word, result.is_mass_up) == (0, "unlikely", True)
