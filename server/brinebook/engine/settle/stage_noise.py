"""How far stages fall from their forecasts: the spread of the next one, learnt from the whole team's surprises."""

from collections.abc import Sequence

import numpy as np

from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import UnphysicalInput, physical, physical_positive

DEFAULT_STAGE_LOG_SD = float(np.hypot(k.STAGE_DAY_LOG_SD, k.INPUT_ESTIMATED_LOG_SD))


def stage_log_sd(
    surprises_log: Sequence[float],
    *,
    known_log_sds: Sequence[float],
    prior_log_sd: float = DEFAULT_STAGE_LOG_SD,
) -> float:
    """
    Spread of a stage around its forecast that is neither the rider's factor nor the scales.

    Parameters
    ----------
    surprises_log : sequence of float, shape (n,)
        Log of the settled loss over the median forecast made before the stage, of all riders [log].
    known_log_sds : sequence of float, shape (n,)
        Spread of each that has a name already: of the factor as it was then, and of the scales [log_sd].
    prior_log_sd : float
        Spread of day and input before any stage was settled [log_sd].

    Returns
    -------
    float
        Spread of day, power, wind and sun together [log_sd]; the prior without a surprise, never below the floor.

    Raises
    ------
    UnphysicalInput
        If the sequences differ in length, a spread is negative or the prior not above zero.

    Notes
    -----
    The mean of a scaled inverse chi-square with ``STAGE_NOISE_PRIOR_N`` rider-days of prior weight. A surprise beyond
    three spreads counts as three: one bad log neither opens nor, by being left out, closes the band.

    References
    ----------
    .. [1] Source key ``sweat_chain`` for the prior; the update is our own and held by simulation.

    Examples
    --------
    >>> round(stage_log_sd([], known_log_sds=[]), 3)
    0.212
    >>> round(stage_log_sd([0.1, -0.12] * 40, known_log_sds=[0.05] * 80), 3)
    0.147
    """
    surprises = physical("surprises_log", np.asarray(surprises_log, dtype=np.float64))
    known_variances = physical("known_log_sds", np.asarray(known_log_sds, dtype=np.float64), low=0.0) ** 2
    if surprises.shape != known_variances.shape:
        raise UnphysicalInput("known_log_sds", float(known_variances.size))
    prior_variance = float(physical_positive("prior_log_sd", prior_log_sd)) ** 2
    most = k.GATE_SD * np.sqrt(prior_variance + known_variances)
    own_variances = np.clip(surprises, -most, most) ** 2 - known_variances
    n_prior = k.STAGE_NOISE_PRIOR_N
    variance = (n_prior * prior_variance + float(own_variances.sum())) / (n_prior + surprises.size)
    return float(np.sqrt(max(variance, k.STAGE_NOISE_FLOOR_LOG_SD**2)))
