"""Audit of settled stages and the morning check."""

from statistics import NormalDist

import numpy as np
import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.settle.audit import coverage_of_ranks, forecast_audit, forecast_coverage, forecast_rank_frac
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


def test_twenty_dots_tell_the_coverage_of_three_intervals():
    random = np.random.default_rng(5)
    twenty = np.exp(0.2 * np.array([
        NormalDist().inv_cdf((dot + 0.5) / 20) for dot in range(20)]))
    settled = np.exp(0.2 * random.normal(size=4000))

    found = forecast_coverage(np.tile(twenty, (4000, 1)), settled_l=settled)

    assert found.coverage_50_frac == pytest.approx(0.50, abs=0.02)
    assert found.coverage_80_frac == pytest.approx(0.80, abs=0.02)
    assert found.coverage_95_frac == pytest.approx(0.95, abs=0.01)
    assert found.mean_rank_frac == pytest.approx(0.5, abs=0.02)


def test_forecasts_that_are_too_high_have_a_low_rank():
    draws = np.tile(np.linspace(4.0, 6.0, 20), (3, 1))

    assert forecast_coverage(draws, settled_l=[3.0, 3.5, 4.1]).mean_rank_frac < 0.05


@pytest.mark.parametrize(("draws", "settled"), [([[1.0, 2.0]], [1.0, 2.0]), ([1.0, 2.0], [1.0]), ([], [])])
def test_a_coverage_of_unlike_shapes_is_refused(draws, settled):
    with pytest.raises(UnphysicalInput):
        forecast_coverage(draws, settled_l=settled)


def test_ranks_tell_the_coverage_of_an_honest_forecast():
    random = np.random.default_rng(6)
    draws = np.exp(0.2 * random.normal(size=256))
    ranks = [forecast_rank_frac(draws, settled_l=loss) for loss in np.exp(0.2 * random.normal(size=4000))]

    found = coverage_of_ranks(ranks)

    assert found.coverage_50_frac == pytest.approx(0.50, abs=0.05)
    assert found.coverage_80_frac == pytest.approx(0.80, abs=0.05)
    assert found.coverage_95_frac == pytest.approx(0.95, abs=0.03)
    assert found.mean_rank_frac == pytest.approx(0.5, abs=0.05)


def test_losses_above_every_forecast_have_the_highest_rank_and_are_covered_by_nothing():
    ranks = [forecast_rank_frac([3.0, 4.0], settled_l=9.0)] * 3

    found = coverage_of_ranks(ranks)

    assert (found.mean_rank_frac, found.coverage_95_frac) == (1.0, 0.0)


@pytest.mark.parametrize("ranks", [[], [1.2], [float("nan")]])
def test_what_is_no_rank_is_refused(ranks):
    with pytest.raises(UnphysicalInput):
        coverage_of_ranks(ranks)
