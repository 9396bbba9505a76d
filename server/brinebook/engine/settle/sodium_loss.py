"""Sodium lost with sweat, with spread."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import UnphysicalInput, physical, physical_positive
from brinebook.engine.measure.sample_chemistry import lognormal_parameters


@dataclass(frozen=True, slots=True)
class SodiumLoss:
    """Sodium lost on a stage: mean, relative spread and a 95 % interval."""

    mean_mmol: float
    spread_frac: float
    low_mmol: float
    high_mmol: float


def stage_sodium_loss(
    sweat_l: float, *, sweat_sd_l: float, sodium_mmol_per_l: float, sodium_sd_mmol_per_l: float
) -> SodiumLoss:
    """
    Sodium lost with the sweat of one stage.

    Parameters
    ----------
    sweat_l : float
        Sweat of the stage [L].
    sweat_sd_l : float
        Its spread [L].
    sodium_mmol_per_l : float
        Whole-body sweat sodium [mmol/L].
    sodium_sd_mmol_per_l : float
        Its spread [mmol/L].

    Returns
    -------
    SodiumLoss
        Product of two independent log-normals.

    Raises
    ------
    UnphysicalInput
        If a mean is not above zero or a spread negative.

    References
    ----------
    .. [1] Source key ``sodium_estimator``.

    Examples
    --------
    >>> round(stage_sodium_loss(5.175, sweat_sd_l=0.776, sodium_mmol_per_l=45.25, sodium_sd_mmol_per_l=8.0).mean_mmol)
    234
    """
    physical_positive("sweat_l", sweat_l)
    physical_positive("sodium_mmol_per_l", sodium_mmol_per_l)
    sweat_log_mean, sweat_log_sd = lognormal_parameters(sweat_l, sd=sweat_sd_l)
    sodium_log_mean, sodium_log_sd = lognormal_parameters(sodium_mmol_per_l, sd=sodium_sd_mmol_per_l)
    log_mean = sweat_log_mean + sodium_log_mean
    log_sd = math.hypot(sweat_log_sd, sodium_log_sd)
    return SodiumLoss(
        mean_mmol=sweat_l * sodium_mmol_per_l,
        spread_frac=math.sqrt(math.expm1(log_sd**2)),
        low_mmol=math.exp(log_mean - k.INTERVAL_Z * log_sd),
        high_mmol=math.exp(log_mean + k.INTERVAL_Z * log_sd),
    )


def race_sodium_loss(
    sweat_l: ArrayLike,
    *,
    sweat_sd_l: ArrayLike,
    sodium_mmol_per_l: float,
    calibration_sd_mmol_per_l: float,
    day_sd_mmol_per_l: float = 0.0,
) -> SodiumLoss:
    """
    Sodium lost with the sweat of several stages of one rider.

    Parameters
    ----------
    sweat_l : array, shape (n,)
        Sweat of each stage [L].
    sweat_sd_l : array, shape (n,)
        Its spread, independent from stage to stage [L].
    sodium_mmol_per_l : float
        Whole-body sweat sodium of the rider [mmol/L].
    calibration_sd_mmol_per_l : float
        Spread that is the same on every stage: level and site equation [mmol/L].
    day_sd_mmol_per_l : float
        Spread from stage to stage [mmol/L].

    Returns
    -------
    SodiumLoss
        Log-normal sum. A rider's calibration error does not average out over three weeks; his days do.

    Raises
    ------
    UnphysicalInput
        If there is no stage, a mean is not above zero, a spread negative, or the arrays differ in length.

    References
    ----------
    .. [1] Source key ``sodium_estimator``.

    Examples
    --------
    >>> race = race_sodium_loss([5.0] * 21, sweat_sd_l=[0.75] * 21, sodium_mmol_per_l=45.0,
    ...                         calibration_sd_mmol_per_l=7.8, day_sd_mmol_per_l=5.0)
    >>> round(race.spread_frac, 2)
    0.18
    """
    sweat = np.atleast_1d(physical_positive("sweat_l", sweat_l))
    sd = np.atleast_1d(physical("sweat_sd_l", sweat_sd_l, low=0.0))
    if sweat.size == 0 or sd.shape != sweat.shape:
        raise UnphysicalInput("sweat_l", float(sweat.size))
    level = float(physical_positive("sodium_mmol_per_l", sodium_mmol_per_l))
    shared = float(physical("calibration_sd_mmol_per_l", calibration_sd_mmol_per_l, low=0.0))
    daily = float(physical("day_sd_mmol_per_l", day_sd_mmol_per_l, low=0.0))
    total_l, sweat_variance = float(sweat.sum()), float((sd**2).sum())
    mean_mmol = total_l * level
    variance = (
        shared**2 * (total_l**2 + sweat_variance)
        + daily**2 * float((sweat**2 + sd**2).sum())
        + level**2 * sweat_variance
    )
    log_mean, log_sd = lognormal_parameters(mean_mmol, sd=math.sqrt(variance))
    return SodiumLoss(
        mean_mmol=mean_mmol,
        spread_frac=math.sqrt(variance) / mean_mmol,
        low_mmol=math.exp(log_mean - k.INTERVAL_Z * log_sd),
        high_mmol=math.exp(log_mean + k.INTERVAL_Z * log_sd),
    )
