"""What shifts a rider's sweat sodium between the test and the race: heat adaptation and effort. All optional."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import physical, physical_positive


@dataclass(frozen=True, slots=True)
class IntensityTransfer:
    """Shift of ln sodium from test effort to race effort, and the doubt it brings."""

    shift_log: float
    extra_log_variance: float


def adaptation_frac(heat_days: Sequence[float], *, at_day: float) -> float:
    """
    Heat adaptation a rider carries on a day.

    Parameters
    ----------
    heat_days : sequence of float, shape (n,)
        Days of heat exposure, one entry a day, on any day count [day].
    at_day : float
        Day asked for; later exposures do not count [day].

    Returns
    -------
    float
        Zero without heat, towards one after ten days of it [frac].

    Raises
    ------
    UnphysicalInput
        If a day is not finite.

    Notes
    -----
    Each exposure closes a share of what is missing (onset 4 days); between exposures it decays (40 days).

    References
    ----------
    .. [1] Source key ``sodium_modifiers``.
    .. [2] Source key ``daanen2018``.

    Examples
    --------
    >>> round(adaptation_frac(range(10), at_day=9.0), 2)
    0.86
    """
    days = physical("heat_days", list(heat_days))
    past = np.sort(days[days <= float(physical("at_day", at_day))]).tolist()
    adapted, before = 0.0, at_day
    gain = -math.expm1(-1.0 / k.ADAPTATION_ONSET_DAYS)
    for day in past:
        adapted *= math.exp(-max(0.0, day - before) / k.ADAPTATION_DECAY_DAYS)
        adapted += gain * (1.0 - adapted)
        before = day
    return adapted * math.exp(-(at_day - before) / k.ADAPTATION_DECAY_DAYS)


def intensity_transfer(
    *, test_rate_l_per_h: float | None = None, race_rate_l_per_h: float | None = None
) -> IntensityTransfer:
    """
    Shift of sweat sodium when the race makes a rider sweat at another rate than the test.

    Parameters
    ----------
    test_rate_l_per_h : float, optional
        Whole-body sweat rate of the test [L/h].
    race_rate_l_per_h : float, optional
        Whole-body sweat rate of the race [L/h].

    Returns
    -------
    IntensityTransfer
        Without both rates there is no shift, only more spread.

    Raises
    ------
    UnphysicalInput
        If a rate is not above zero.

    References
    ----------
    .. [1] Source key ``sodium_modifiers``.

    Examples
    --------
    >>> round(intensity_transfer(test_rate_l_per_h=1.6, race_rate_l_per_h=1.0).shift_log, 3)
    -0.235
    """
    if test_rate_l_per_h is None or race_rate_l_per_h is None:
        return IntensityTransfer(0.0, k.INTENSITY_UNKNOWN_LOG_SD**2)
    race = float(physical_positive("race_rate_l_per_h", race_rate_l_per_h))
    ratio = race / float(physical_positive("test_rate_l_per_h", test_rate_l_per_h))
    ratio_log = math.log(min(max(ratio, k.INTENSITY_RATIO[0]), k.INTENSITY_RATIO[1]))
    return IntensityTransfer(k.INTENSITY_EXPONENT * ratio_log, (k.INTENSITY_EXPONENT_SD * ratio_log) ** 2)


def diet_shift_log(intake_ratio_frac: float) -> float:
    """
    Shift of ln sodium by eating saltier than usual; off by default, since studies disagree.

    Parameters
    ----------
    intake_ratio_frac : float
        Sodium eaten over the usual, the days before the test [frac].

    Returns
    -------
    float
        Shift [log]; a doubled intake gives about 9 %.

    Raises
    ------
    UnphysicalInput
        If the ratio is not above zero.

    References
    ----------
    .. [1] Source key ``sodium_modifiers``.

    Examples
    --------
    >>> round(diet_shift_log(2.0), 3)
    0.083
    """
    return k.DIET_EXPONENT * math.log(float(physical_positive("intake_ratio_frac", intake_ratio_frac)))


def intensity_elasticity(
    sodium_mmol_per_l: tuple[float, float], *, sweat_rates_l_per_h: tuple[float, float]
) -> float:
    """
    Relative change of sodium per relative change of sweat rate, from two efforts.

    Parameters
    ----------
    sodium_mmol_per_l : tuple of float
        Sodium at the lower and the higher effort [mmol/L].
    sweat_rates_l_per_h : tuple of float
        Sweat rates of both, in any one unit [L/h].

    Returns
    -------
    float
        Elasticity, the exponent of the power law through both; 0.4 to 1.2 in print.

    Raises
    ------
    UnphysicalInput
        If a number is not above zero.

    References
    ----------
    .. [1] Source key ``sodium_modifiers``.
    .. [2] Source key ``buono2008``.

    Examples
    --------
    >>> round(intensity_elasticity((19.0, 59.0), sweat_rates_l_per_h=(0.25, 0.82)), 2)
    0.95
    """
    sodium = np.log(physical_positive("sodium_mmol_per_l", sodium_mmol_per_l))
    rates = np.log(physical_positive("sweat_rates_l_per_h", sweat_rates_l_per_h))
    return float((sodium[1] - sodium[0]) / (rates[1] - rates[0]))
