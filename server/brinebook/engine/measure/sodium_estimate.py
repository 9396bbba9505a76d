"""Whole-body sweat sodium of one rider from forearm tests of any age: closed form, no sampler."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import UnphysicalInput, physical, physical_positive
from brinebook.engine.measure.sweat_sample import CONDUCTIVITY, is_method_mixed, site_equation
from brinebook.engine.units import FloatArray


@dataclass(frozen=True, slots=True)
class SodiumTest:
    """
    One test day: raw forearm sodium of each usable arm.

    Optional: heat adaptation that day (``modifiers.adaptation_frac``), shift of ln sodium to race effort
    (``modifiers.intensity_transfer``), method of analysis.
    """

    day: float
    arms_mmol_per_l: tuple[float, ...]
    extra_log_variance: float = 0.0
    adaptation_frac: float = 0.0
    intensity_log: float = 0.0
    method: str = "ion_selective"


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
    codes: tuple[str, ...] = ()


def sodium_estimate(
    tests: Sequence[SodiumTest], *, at_day: float, site: str = "dorsal_forearm", adaptation_frac: float = 0.0
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
    adaptation_frac : float
        Heat adaptation on the day asked for; leave it and the tests' own at zero to do without [frac].

    Returns
    -------
    SodiumEstimate
        ``weights_frac`` says how much each test moved the estimate away from the population. Codes: ``STALE`` when
        the last test is older than 60 days, ``SINGLE_ARM`` when it has one arm, ``COND_ONLY`` when all are
        conductivity, ``METHOD_MISMATCH`` when conductivity tests were left out beside sodium readings.

    Raises
    ------
    UnphysicalInput
        If a test has no arm, a concentration is not above zero, an adaptation is outside 0-1, or the site has no
        prior.

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
    is_read = _is_read(tests)
    read = [test for test, is_so in zip(tests, is_read, strict=True) if is_so]
    level_log = np.array([forearm_level_log(test) for test in read], dtype=np.float64)
    days = physical("day", np.array([test.day for test in read], dtype=np.float64))
    total_log_variance = k.RIDER_LOG_SD**2 + k.SEASON_LOG_SD**2
    to_now = _covariance_log2(np.abs(at_day - days))
    between = _covariance_log2(np.abs(days[:, None] - days[None, :]))
    noise = np.array([noise_log_variance(test) for test in read], dtype=np.float64)
    weights_frac: FloatArray = np.linalg.solve(between + np.diag(noise), to_now).astype(np.float64)
    unadapted_log_mean = prior.log_mean + float(weights_frac @ (level_log - prior.log_mean))
    log_mean = unadapted_log_mean + k.ADAPTED_LOG * _adapted_frac(adaptation_frac)
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
        weights_frac=_spread_out(weights_frac, is_read),
        codes=_codes(tests, is_read, at_day),
    )


def _site_prior(site: str) -> k.SitePrior:
    if site not in k.SITE_PRIORS:
        raise UnphysicalInput(f"site {site}", math.nan)
    return k.SITE_PRIORS[site]


def forearm_level_log(test: SodiumTest) -> float:
    """
    Level a test stands for, at race effort and without heat adaptation.

    Parameters
    ----------
    test : SodiumTest
        One test day.

    Returns
    -------
    float
        Mean over the arms of ln forearm sodium, shifted [log].

    Raises
    ------
    UnphysicalInput
        If the test has no arm, or a number cannot be.

    References
    ----------
    .. [1] Source key ``sodium_estimator``.
    """
    if not test.arms_mmol_per_l:
        raise UnphysicalInput("arms_mmol_per_l", math.nan)
    arms_log = float(np.log(physical_positive("arms_mmol_per_l", test.arms_mmol_per_l)).mean())
    shift_log = float(physical("intensity_log", test.intensity_log))
    return arms_log + shift_log - k.ADAPTED_LOG * _adapted_frac(test.adaptation_frac)


def _adapted_frac(adaptation_frac: float) -> float:
    return float(physical("adaptation_frac", adaptation_frac, low=0.0, high=1.0))


def _is_read(tests: Sequence[SodiumTest]) -> tuple[bool, ...]:
    """Conductivity and sodium readings are two scales: beside sodium readings, conductivity is left out."""
    is_mixed = is_method_mixed([test.method for test in tests])
    return tuple(not (is_mixed and test.method == CONDUCTIVITY) for test in tests)


def _spread_out(weights_frac: FloatArray, is_read: tuple[bool, ...]) -> tuple[float, ...]:
    weights = iter(weights_frac.tolist())
    return tuple(next(weights) if is_so else 0.0 for is_so in is_read)


def _codes(tests: Sequence[SodiumTest], is_read: tuple[bool, ...], at_day: float) -> tuple[str, ...]:
    read = [test for test, is_so in zip(tests, is_read, strict=True) if is_so]
    if not read:
        return ()
    last = max(read, key=lambda test: test.day)
    found = {
        "METHOD_MISMATCH": not all(is_read),
        "COND_ONLY": all(test.method == CONDUCTIVITY for test in read),
        "SINGLE_ARM": len(last.arms_mmol_per_l) == 1,
        "STALE": at_day - last.day > k.STALE_DAYS,
    }
    return tuple(code for code, is_so in found.items() if is_so)


def noise_log_variance(test: SodiumTest) -> float:
    """
    Variance of one test around the rider's level of those weeks.

    Parameters
    ----------
    test : SodiumTest
        One test day.

    Returns
    -------
    float
        Day, arms and doubts of the sample together [log_variance].

    Raises
    ------
    UnphysicalInput
        If the extra variance is negative.

    References
    ----------
    .. [1] Source key ``sodium_estimator``.
    """
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


def reference_change_linear_frac(analytical_frac: float, *, within_frac: float) -> float:
    """
    Change between two tests that chance alone explains in 95 % of cases, the laboratory's linear form.

    Parameters
    ----------
    analytical_frac : float
        Coefficient of variation of the analysis [frac].
    within_frac : float
        Coefficient of variation of one person from day to day [frac].

    Returns
    -------
    float
        Change in either direction [frac].

    Raises
    ------
    UnphysicalInput
        If a coefficient is negative or not finite.

    References
    ----------
    .. [1] Source key ``willems2017``.

    Examples
    --------
    >>> round(reference_change_linear_frac(0.06, within_frac=0.175), 3)
    0.513
    """
    analytical = float(physical("analytical_frac", analytical_frac, low=0.0))
    within = float(physical("within_frac", within_frac, low=0.0))
    return k.INTERVAL_Z * math.sqrt(2.0) * math.hypot(analytical, within)
