"""Whole-body sweat sodium of one rider from forearm tests of any age: closed form, no sampler."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import UnphysicalInput, physical, physical_positive
from brinebook.engine.measure.sweat_sample import site_equation
from brinebook.engine.units import FloatArray


@dataclass(frozen=True, slots=True)
class SodiumTest:
    """One test day: raw forearm sodium of each usable arm."""

    day: float
    arms_mmol_per_l: tuple[float, ...]
    extra_log_variance: float = 0.0


@dataclass(frozen=True, slots=True)
class SodiumEstimate:
    """Forearm level on the log scale, whole-body level with spread and a 95 % interval."""

    log_mean: float
    log_sd: float
    forearm_median_mmol_per_l: float
    forearm_mean_mmol_per_l: float
    mean_mmol_per_l: float
    sd_mmol_per_l: float
    low_mmol_per_l: float
    high_mmol_per_l: float
    weights_frac: tuple[float, ...]


def sodium_estimate(
    tests: Sequence[SodiumTest], *, at_day: float, site: str = "dorsal_forearm"
) -> SodiumEstimate:
    """
    Best estimate of whole-body sweat sodium on a given day.

    Parameters
    ----------
    tests : sequence of SodiumTest
        Usable tests, in any order; none gives the population.
    at_day : float
        Day the estimate is for, on the tests' own day count [day].
    site : str
        Forearm site of all tests, ``dorsal_forearm`` or ``ventral_forearm``.

    Returns
    -------
    SodiumEstimate
        ``weights_frac`` says how much each test moved the estimate away from the population.

    Raises
    ------
    UnphysicalInput
        If a test has no arm, a concentration is not above zero, or the site has no prior.

    Notes
    -----
    The prior stands on the forearm scale: the regional equation already shrinks towards its sample, so a prior on
    the whole body would shrink twice. A log-normal prior, a season term that forgets in 40 days, a day and an arm term.

    References
    ----------
    .. [1] Source key ``sodium_estimator``.
    .. [2] Source key ``baker2016``.

    Examples
    --------
    >>> estimate = sodium_estimate([SodiumTest(0.0, (58.0, 64.0))], at_day=0.0)
    >>> round(estimate.mean_mmol_per_l, 2)
    44.63
    """
    equation, prior = site_equation(site), _site_prior(site)
    physical("at_day", at_day)
    level_log = np.array([_level_log(test) for test in tests], dtype=np.float64)
    days = physical("day", np.array([test.day for test in tests], dtype=np.float64))
    total_log_variance = k.RIDER_LOG_SD**2 + k.SEASON_LOG_SD**2
    to_now = _covariance_log2(np.abs(at_day - days))
    between = _covariance_log2(np.abs(days[:, None] - days[None, :]))
    noise = np.array([_noise_log_variance(test) for test in tests], dtype=np.float64)
    weights_frac: FloatArray = np.linalg.solve(between + np.diag(noise), to_now).astype(np.float64)
    log_mean = prior.log_mean + float(weights_frac @ (level_log - prior.log_mean))
    log_variance = total_log_variance - float(weights_frac @ to_now)
    forearm_mean_mmol_per_l = math.exp(log_mean + log_variance / 2.0)
    forearm_sd_mmol_per_l = forearm_mean_mmol_per_l * math.sqrt(math.expm1(log_variance))
    mean_mmol_per_l = equation.intercept_mmol_per_l + equation.slope_frac * forearm_mean_mmol_per_l
    sd_mmol_per_l = math.hypot(equation.slope_frac * forearm_sd_mmol_per_l, prior.calibration_sd_mmol_per_l)
    reach_mmol_per_l = k.INTERVAL_Z * sd_mmol_per_l
    return SodiumEstimate(
        log_mean=log_mean,
        log_sd=math.sqrt(log_variance),
        forearm_median_mmol_per_l=math.exp(log_mean),
        forearm_mean_mmol_per_l=forearm_mean_mmol_per_l,
        mean_mmol_per_l=mean_mmol_per_l,
        sd_mmol_per_l=sd_mmol_per_l,
        low_mmol_per_l=max(k.WHOLE_BODY_LOW_MMOL_PER_L, mean_mmol_per_l - reach_mmol_per_l),
        high_mmol_per_l=min(k.WHOLE_BODY_HIGH_MMOL_PER_L, mean_mmol_per_l + reach_mmol_per_l),
        weights_frac=tuple(float(weight) for weight in weights_frac),
    )


def _site_prior(site: str) -> k.SitePrior:
    if site not in k.SITE_PRIORS:
        raise UnphysicalInput(f"site {site}", math.nan)
    return k.SITE_PRIORS[site]


def _level_log(test: SodiumTest) -> float:
    if not test.arms_mmol_per_l:
        raise UnphysicalInput("arms_mmol_per_l", math.nan)
    return float(np.log(physical_positive("arms_mmol_per_l", test.arms_mmol_per_l)).mean())


def _noise_log_variance(test: SodiumTest) -> float:
    physical("extra_log_variance", test.extra_log_variance, low=0.0)
    return k.DAY_LOG_SD**2 + k.ARM_LOG_SD**2 / len(test.arms_mmol_per_l) + test.extra_log_variance


def _covariance_log2(apart_days: FloatArray) -> FloatArray:
    return k.RIDER_LOG_SD**2 + k.SEASON_LOG_SD**2 * np.exp(-apart_days / k.SEASON_TIME_DAYS)


def reference_change_frac(log_sd: float) -> tuple[float, float]:
    """
    Rise and fall between two tests that chance alone explains in 95 % of cases.

    Parameters
    ----------
    log_sd : float
        Spread of one test on the log scale [log_sd].

    Returns
    -------
    tuple of float
        Rise and fall, the fall negative [frac].

    References
    ----------
    .. [1] Source key ``willems2017``.

    Examples
    --------
    >>> [round(change, 2) for change in reference_change_frac(0.133)]
    [0.45, -0.31]
    """
    reach_log = k.INTERVAL_Z * math.sqrt(2.0) * float(physical("log_sd", log_sd, low=0.0))
    return math.expm1(reach_log), math.expm1(-reach_log)
