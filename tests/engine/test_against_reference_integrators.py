"""Every closed form that stands for a differential equation, against scipy's integrators at tight tolerance."""

import numpy as np
import pytest
from brinebook.engine.constants import balance as c
from brinebook.engine.constants import sweat as k
from brinebook.engine.loss.sweat_forecast import sweat_over_segments_l
from brinebook.engine.measure.modifiers import adaptation_frac
from brinebook.engine.measure.sodium_estimate import SodiumTest, sodium_estimate
from brinebook.engine.plan.gut import stomach_l
from brinebook.engine.settle.learn import FactorState, update_factor
from scipy import integrate, stats

TIGHT = {"rtol": 1e-10, "atol": 1e-12, "method": "DOP853"}


@pytest.mark.parametrize("seed", range(6))
def test_the_lagged_sweat_is_the_integral_of_its_rate(seed):
    random = np.random.default_rng(seed)
    hours, steady = random.uniform(0.01, 0.4, 12), random.uniform(0.2, 2.2, 12)
    ends = np.cumsum(hours)

    rate, theirs = 0.0, []
    for begin, end, target in zip(ends - hours, ends, steady, strict=True):
        run = integrate.solve_ivp(
            lambda _, y, target=target: [(target - y[0]) / k.SWEAT_TIME_H, y[0]], (begin, end), [rate, 0.0], **TIGHT)
        rate = run.y[0, -1]
        theirs.append(run.y[1, -1])

    np.testing.assert_allclose(sweat_over_segments_l(steady, duration_h=hours), theirs, rtol=1e-8)


@pytest.mark.parametrize("seed", range(4))
def test_the_stomach_is_the_integral_of_drinking_and_emptying(seed):
    random = np.random.default_rng(seed)
    times_h = np.concatenate([[0.0], np.cumsum(random.uniform(0.1, 0.9, 8))])
    drunk_l = random.uniform(0.0, 0.8, 8)

    content, theirs = 0.0, []
    for begin, end, swallowed in zip(times_h[:-1], times_h[1:], drunk_l, strict=True):
        inflow = swallowed / (end - begin)
        run = integrate.solve_ivp(
            lambda _, y, inflow=inflow: [inflow - c.EMPTYING_PER_H * y[0]], (begin, end), [content], **TIGHT)
        content = run.y[0, -1]
        theirs.append(content)

    np.testing.assert_allclose(stomach_l(times_h, drunk_l=drunk_l), theirs, rtol=1e-9)


def test_heat_adaptation_decays_as_its_differential_equation_says():
    run = integrate.solve_ivp(lambda _, y: -y / k.ADAPTATION_DECAY_DAYS, (0.0, 30.0),
                              [adaptation_frac([0.0], at_day=0.0)], **TIGHT)

    assert adaptation_frac([0.0], at_day=30.0) == pytest.approx(run.y[0, -1], rel=1e-8)


def test_the_sodium_posterior_of_one_test_is_bayes_rule_by_quadrature():
    arms, age_days = (58.0, 64.0), 45.0
    found = sodium_estimate([SodiumTest(0.0, arms)], at_day=age_days)
    prior = k.SITE_PRIORS["dorsal_forearm"].log_mean
    level = np.log(arms).mean()
    noise = np.hypot(k.DAY_LOG_SD, k.ARM_LOG_SD / np.sqrt(2.0))
    kept = np.exp(-age_days / k.SEASON_TIME_DAYS)
    total = k.RIDER_LOG_SD**2 + k.SEASON_LOG_SD**2
    shared = k.RIDER_LOG_SD**2 + k.SEASON_LOG_SD**2 * kept

    def joint(now):
        """Weigh a level of today by the prior and by how likely it makes the old test."""
        then = prior + shared / total * (now - prior)
        spread = np.sqrt(total - shared**2 / total + noise**2)
        return stats.norm.pdf(now, prior, np.sqrt(total)) * stats.norm.pdf(level, then, spread)

    weight = integrate.quad(joint, 2.0, 6.0, epsabs=1e-13)[0]
    mean = integrate.quad(lambda x: x * joint(x), 2.0, 6.0, epsabs=1e-13)[0] / weight
    variance = integrate.quad(lambda x: (x - mean) ** 2 * joint(x), 2.0, 6.0, epsabs=1e-13)[0] / weight

    assert found.log_mean == pytest.approx(mean, abs=1e-6)
    assert found.log_sd == pytest.approx(np.sqrt(variance), abs=1e-6)


def test_the_factor_after_a_weighing_is_bayes_rule_by_quadrature():
    prior, noise = 0.25, np.hypot(0.3 / 4.4, 0.10)
    update = update_factor(FactorState(0.0, prior), model_l=4.0, observed_l=4.4, observed_sd_l=0.3, n_days_since=0.0)
    seen = np.log(4.4 / 4.0)

    def joint(x):
        return stats.norm.pdf(x, 0.0, prior) * stats.norm.pdf(seen, x, noise)

    weight = integrate.quad(joint, -2.0, 2.0, epsabs=1e-13)[0]
    mean = integrate.quad(lambda x: x * joint(x), -2.0, 2.0, epsabs=1e-13)[0] / weight

    assert update.state.log_mean == pytest.approx(mean, abs=1e-8)
