"""Sodium lost with sweat, with spread."""

import math
from dataclasses import dataclass

from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import physical_positive
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
