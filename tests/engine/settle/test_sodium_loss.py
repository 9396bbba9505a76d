"""Sodium over a race: what averages out, and what does not."""

import numpy as np
import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.settle.sodium_loss import race_sodium_loss, stage_sodium_loss


def test_a_race_of_one_stage_is_that_stage():
    stage = stage_sodium_loss(5.0, sweat_sd_l=0.8, sodium_mmol_per_l=45.0, sodium_sd_mmol_per_l=8.0)
    race = race_sodium_loss([5.0], sweat_sd_l=[0.8], sodium_mmol_per_l=45.0, calibration_sd_mmol_per_l=8.0)

    assert race.mean_mmol == pytest.approx(stage.mean_mmol)
    assert race.spread_frac == pytest.approx(stage.spread_frac)
    assert (race.low_mmol, race.high_mmol) == (pytest.approx(stage.low_mmol), pytest.approx(stage.high_mmol))


def test_days_average_out_over_three_weeks_and_calibration_does_not():
    days = {"sweat_sd_l": [0.8] * 21, "sodium_mmol_per_l": 45.0}
    by_day = race_sodium_loss([5.0] * 21, calibration_sd_mmol_per_l=0.0, day_sd_mmol_per_l=8.0, **days)
    by_rider = race_sodium_loss([5.0] * 21, calibration_sd_mmol_per_l=8.0, **days)

    assert by_day.spread_frac < 0.06
    assert by_rider.spread_frac > 8.0 / 45.0


def test_the_spread_is_that_of_simulated_races():
    random = np.random.default_rng(8)
    sweat, n = np.linspace(3.0, 6.0, 7), 40_000
    level = 45.0 + 7.0 * random.normal(size=(n, 1)) + 4.0 * random.normal(size=(n, 7))
    lost = ((sweat + 0.15 * sweat * random.normal(size=(n, 7))) * level).sum(axis=1)

    found = race_sodium_loss(sweat, sweat_sd_l=0.15 * sweat, sodium_mmol_per_l=45.0, calibration_sd_mmol_per_l=7.0,
                             day_sd_mmol_per_l=4.0)

    assert found.mean_mmol == pytest.approx(lost.mean(), rel=0.01)
    assert found.spread_frac == pytest.approx(lost.std() / lost.mean(), rel=0.02)


@pytest.mark.parametrize(("sweat", "sd"), [([], []), ([5.0], [0.5, 0.5]), ([0.0], [0.5]), ([5.0], [-0.1])])
def test_a_race_that_cannot_be_is_refused(sweat, sd):
    with pytest.raises(UnphysicalInput):
        race_sodium_loss(sweat, sweat_sd_l=sd, sodium_mmol_per_l=45.0, calibration_sd_mmol_per_l=7.0)
