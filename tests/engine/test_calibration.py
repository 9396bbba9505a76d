"""Simulated riders drawn from the models' own assumptions: does an 80 % interval hold 80 %, and are ranks uniform?

Each test prints its numbers (``pytest -s``); heavy-tailed days say by how much the intervals then miss.
"""

from types import SimpleNamespace

import numpy as np
import pytest
from brinebook.engine.constants import sweat as k
from brinebook.engine.loss.sweat_forecast import RiderState, sweat_forecast
from brinebook.engine.measure.sodium_estimate import SodiumTest, sodium_estimate
from brinebook.engine.settle.learn import FactorState, personal_factor, team_offset, update_factor
from scipy import stats

N_RIDERS = 2400
N_STAGES = 5
N_BINS = 20
Z80, Z95 = 1.2816, 1.96
PRIOR_MEAN = k.SITE_PRIORS["dorsal_forearm"].log_mean


def _normal_day(random, size):
    return random.normal(size=size)


def _heavy_day(random, size):
    """Return Student's t with three degrees of freedom: the usual day is as before, the rare one is far off."""
    return random.standard_t(3, size=size)


def _rank_check(z):
    counts, _ = np.histogram(stats.norm.cdf(z), bins=N_BINS, range=(0.0, 1.0))
    return stats.chisquare(counts)


def _report(name, z):
    z = np.asarray(z)
    ranks = _rank_check(z)
    inside_80, inside_95 = (float(np.mean(np.abs(z) <= reach)) for reach in (Z80, Z95))
    print(f"\n{name}: n {z.size}, 80 % hold {100 * inside_80:.1f} %, 95 % hold {100 * inside_95:.1f} %, "
          f"mean {z.mean():+.2f} sd, ranks chi-square {ranks.statistic:.1f} on {N_BINS - 1}, p {ranks.pvalue:.3f}")
    return inside_80, inside_95, float(ranks.pvalue)


def _season(random, days):
    """Draw the drifting part of a rider's level on his test days and on the day asked for, the last one."""
    apart = np.abs(days[:, None] - days[None, :])
    covariance = k.SEASON_LOG_SD**2 * np.exp(-apart / k.SEASON_TIME_DAYS) + 1e-12 * np.eye(days.size)
    return np.linalg.cholesky(covariance) @ random.normal(size=days.size)


def _sodium_riders(seed, day_noise):
    """Yield for each rider the estimate, his true ln forearm level and his true whole-body level."""
    random = np.random.default_rng(seed)
    calibration_sd = k.SITE_PRIORS["dorsal_forearm"].calibration_sd_mmol_per_l
    for _ in range(N_RIDERS):
        n_tests = int(random.integers(0, 5))
        days = np.append(np.sort(random.uniform(-150.0, 0.0, n_tests)), random.uniform(0.0, 30.0))
        level = PRIOR_MEAN + k.RIDER_LOG_SD * random.normal() + _season(random, days)
        tests = []
        for day, at_test in zip(days[:-1], level[:-1], strict=True):
            n_arms, extra = int(random.integers(1, 3)), (0.0, 0.01, 0.03)[random.integers(0, 3)]
            shared = k.DAY_LOG_SD * day_noise(random, 1) + np.sqrt(extra) * random.normal()
            arms = np.exp(at_test + shared + k.ARM_LOG_SD * random.normal(size=n_arms))
            tests.append(SodiumTest(float(day), tuple(arms.tolist()), extra))
        whole = 11.05 + 0.57 * np.exp(level[-1]) + calibration_sd * random.normal()
        yield sodium_estimate(tests, at_day=float(days[-1])), level[-1], whole


def _sodium_z(seed, day_noise):
    riders = list(_sodium_riders(seed, day_noise))
    forearm = [(level - estimate.log_mean) / estimate.log_sd for estimate, level, _ in riders]
    whole = [(level - estimate.mean_mmol_per_l) / estimate.sd_mmol_per_l for estimate, _, level in riders]
    return forearm, whole


def _learn(random, day_noise):
    """Return true less learnt factor after five weighed stages, in units of its spread."""
    true = k.FACTOR_PRIOR_LOG_SD * random.normal()
    state = FactorState(0.0, k.FACTOR_PRIOR_LOG_SD)
    for _ in range(N_STAGES):
        days = int(random.integers(1, 4))
        true += k.FACTOR_DRIFT_LOG_SD_PER_DAY * np.sqrt(days) * random.normal()
        model_l, scale_sd_l = random.uniform(2.5, 6.0), random.uniform(0.15, 0.35)
        sweat_l = model_l * np.exp(true + k.MODEL_DAY_LOG_SD * float(day_noise(random, 1)[0]))
        observed_l = sweat_l + scale_sd_l * random.normal()
        state = update_factor(
            state, model_l=model_l, observed_l=observed_l, observed_sd_l=scale_sd_l, n_days_since=days
        ).state
    return (true - state.log_mean) / state.log_sd


def _learner_z(seed, day_noise):
    random = np.random.default_rng(seed)
    return [_learn(random, day_noise) for _ in range(N_RIDERS)]


def test_the_sodium_estimate_is_calibrated_on_its_own_riders():
    forearm, whole = _sodium_z(11, _normal_day)

    held, held_95, p = _report("sodium, forearm level", forearm)
    assert 0.78 <= held <= 0.82
    assert 0.94 <= held_95 <= 0.96
    assert p > 0.01
    # The whole-body level is a log-normal plus a normal, reported as mean and spread: its intervals are near enough.
    held, held_95, _ = _report("sodium, whole body", whole)
    assert 0.78 <= held <= 0.82
    assert 0.94 <= held_95 <= 0.96


def test_heavy_tailed_days_make_the_sodium_estimate_miss_by_a_few_percent():
    forearm, whole = _sodium_z(12, _heavy_day)

    held, held_95, _ = _report("sodium, forearm level, heavy-tailed days", forearm)
    print(f"  it misses 80 % by {100 * (held - 0.80):+.1f} and 95 % by {100 * (held_95 - 0.95):+.1f} points")
    assert 0.70 <= held < 0.78
    assert 0.86 <= held_95 < 0.94
    held, held_95, _ = _report("sodium, whole body, heavy-tailed days", whole)
    print(f"  it misses 80 % by {100 * (held - 0.80):+.1f} and 95 % by {100 * (held_95 - 0.95):+.1f} points")
    assert 0.74 <= held <= 0.82


def test_the_factor_learner_is_calibrated_on_its_own_riders():
    z = _learner_z(21, _normal_day)
    held, held_95, p = _report("factor after five stages", z)

    # A stage that reads low by chance is trusted less than one that reads high: the factor leans up by a tenth of its
    # own spread, under one percent of sweat. More riders would show it in the ranks.
    assert -0.15 < np.mean(z) < 0.0
    assert 0.78 <= held <= 0.82
    assert 0.94 <= held_95 <= 0.96
    assert p > 0.01


def test_heavy_tailed_days_make_the_factor_learner_miss_by_a_few_percent():
    held, held_95, _ = _report("factor after five stages, heavy-tailed days", _learner_z(22, _heavy_day))
    print(f"  it misses 80 % by {100 * (held - 0.80):+.1f} and 95 % by {100 * (held_95 - 0.95):+.1f} points")

    assert 0.68 <= held < 0.79
    assert 0.84 <= held_95 < 0.945


def test_the_next_stage_falls_inside_the_personal_forecast_as_often_as_said():
    random = np.random.default_rng(31)
    z = []
    for _ in range(N_RIDERS):
        factor = k.FACTOR_PRIOR_LOG_SD * random.normal()
        ratios = np.exp(factor + k.STAGE_DAY_LOG_SD * random.normal(size=int(random.integers(0, 6))))
        found = personal_factor(ratios.tolist(), input_log_sd=k.INPUT_MEASURED_LOG_SD)
        next_log = factor + np.hypot(k.STAGE_DAY_LOG_SD, k.INPUT_MEASURED_LOG_SD) * random.normal()
        z.append((next_log - found.state.log_mean) / found.predictive_log_sd)

    held, held_95, p = _report("next stage from the personal factor", z)
    assert 0.78 <= held <= 0.82
    assert 0.94 <= held_95 <= 0.96
    assert p > 0.01


def test_the_team_offset_is_calibrated_over_teams():
    random = np.random.default_rng(41)
    z = []
    for _ in range(N_RIDERS):
        offset = k.TEAM_PRIOR_LOG_SD * random.normal()
        sds = np.hypot(k.FACTOR_PRIOR_LOG_SD, k.STAGE_DAY_LOG_SD / np.sqrt(random.integers(1, 6, size=8)))
        mean, sd = team_offset((offset + sds * random.normal(size=8)).tolist(), sds.tolist())
        z.append((offset - mean) / sd)

    held, held_95, p = _report("team offset", z)
    assert 0.78 <= held <= 0.82
    assert 0.94 <= held_95 <= 0.96
    assert p > 0.01


@pytest.mark.parametrize("is_power_measured", [True, False])
def test_the_band_of_a_forecast_holds_four_in_five_stages(is_power_measured):
    n = 30
    road = SimpleNamespace(
        duration_h=np.full(n, 0.15), power_w=np.full(n, 210.0), air_temperature_c=np.full(n, 18.0),
        relative_humidity_frac=np.full(n, 0.5), air_speed_m_per_s=np.full(n, 7.0),
        radiant_temperature_c=np.full(n, 30.0),
    )
    rider = RiderState(68.0, 1.78, 0.22, 0.05, 0.12, 0.04, 40.0, 8.0, is_power_measured=is_power_measured)
    forecast = sweat_forecast(road, rider)
    random = np.random.default_rng(51)
    input_log_sd = k.INPUT_MEASURED_LOG_SD if is_power_measured else k.INPUT_ESTIMATED_LOG_SD
    log_sd = np.sqrt(0.12**2 + k.STAGE_DAY_LOG_SD**2 + input_log_sd**2)

    sweat_l = forecast.model_cumulative_l[-1] * np.exp(0.09 + log_sd * random.normal(size=20 * N_RIDERS))
    low_l, _, high_l = forecast.cumulative_quantiles_l[:, -1]

    held = float(np.mean((sweat_l >= low_l) & (sweat_l <= high_l)))
    print(f"\nforecast band, power measured {is_power_measured}: 80 % hold {100 * held:.1f} %")
    assert 0.78 <= held <= 0.82
