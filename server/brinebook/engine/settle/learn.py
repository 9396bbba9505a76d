"""What a weighing teaches about a rider: a log-normal factor on the sweat chain."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import finite, physical, physical_positive


@dataclass(frozen=True, slots=True)
class FactorState:
    """A rider's factor as a log-normal."""

    log_mean: float
    log_sd: float


@dataclass(frozen=True, slots=True)
class FactorUpdate:
    """The factor after one weighing; ``z`` is the log ratio of observed to model, ``gain`` the share of it learnt."""

    state: FactorState
    is_rejected: bool
    z: float
    gain: float


@dataclass(frozen=True, slots=True)
class PersonalFactor:
    """A factor from several weighings at once, with the spread of the next stage."""

    state: FactorState
    predictive_log_sd: float


POPULATION_FACTOR = FactorState(0.0, k.FACTOR_PRIOR_LOG_SD)


def update_factor(
    prior: FactorState,
    *,
    model_l: float,
    observed_l: float,
    observed_sd_l: float,
    model_log_sd: float = k.MODEL_DAY_LOG_SD,
    n_days_since: float = 1.0,
) -> FactorUpdate:
    """
    Factor after one weighed stage.

    Parameters
    ----------
    prior : FactorState
        Factor before, as of ``n_days_since`` days ago.
    model_l : float
        Sweat the chain gives at factor one, team offset included [L].
    observed_l : float
        Sweat by the scales [L].
    observed_sd_l : float
        Its spread [L].
    model_log_sd : float
        Spread of the chain from day to day [log_sd].
    n_days_since : float
        Days since the prior; the factor drifts meanwhile.

    Returns
    -------
    FactorUpdate
        A weighing more than three spreads off, or one without any sweat, is rejected and teaches nothing: suspect
        the log before the rider. Its ``z`` is then still the log ratio, or zero where there is none.

    Raises
    ------
    UnphysicalInput
        If the model's litres or the spread are not above zero, or an input is not finite.

    Notes
    -----
    The spread of the scales is taken relative to what they read, so a low reading counts a little less than a high
    one: over many stages the factor leans up by a tenth of its spread. Days with heavier tails than a normal's make
    its 80 % interval hold about 70 % (``tests/engine/test_calibration.py`` prints both).

    References
    ----------
    .. [1] Source key ``reconciliation``.

    Examples
    --------
    >>> update = update_factor(FactorState(0.0, 0.2), model_l=3.3, observed_l=3.95, observed_sd_l=0.218,
    ...                        n_days_since=0.0)
    >>> round(math.exp(update.state.log_mean), 3), round(update.state.log_sd, 3)
    (1.145, 0.099)
    """
    finite(
        model_l=model_l, observed_l=observed_l, observed_sd_l=observed_sd_l, model_log_sd=model_log_sd,
        n_days_since=n_days_since,
    )
    physical_positive("model_l", model_l)
    physical_positive("observed_sd_l", observed_sd_l)
    physical("observed_l", observed_l)
    prior = drifted(prior, float(physical("n_days_since", n_days_since, low=0.0)))
    if observed_l <= 0.0:
        return FactorUpdate(prior, is_rejected=True, z=0.0, gain=0.0)
    ratio_log = math.log(observed_l / model_l)
    noise_log_variance = (observed_sd_l / observed_l) ** 2 + model_log_sd**2
    prior_log_variance = prior.log_sd**2
    surprise_log = ratio_log - prior.log_mean
    if abs(surprise_log) > k.GATE_SD * math.sqrt(prior_log_variance + noise_log_variance):
        return FactorUpdate(prior, is_rejected=True, z=ratio_log, gain=0.0)
    gain = prior_log_variance / (prior_log_variance + noise_log_variance)
    state = FactorState(prior.log_mean + gain * surprise_log, math.sqrt((1.0 - gain) * prior_log_variance))
    return FactorUpdate(state, is_rejected=False, z=ratio_log, gain=gain)


def drifted(state: FactorState, n_days: float) -> FactorState:
    """
    Factor some days later, when nothing was weighed in between.

    Parameters
    ----------
    state : FactorState
        Factor as it was.
    n_days : float
        Days since.

    Returns
    -------
    FactorState
        The same mean with a wider spread.

    References
    ----------
    .. [1] Source key ``reconciliation``.
    """
    physical("log_mean", state.log_mean)
    physical("log_sd", state.log_sd, low=0.0)
    return FactorState(state.log_mean, math.hypot(state.log_sd, k.FACTOR_DRIFT_LOG_SD_PER_DAY * math.sqrt(n_days)))


def team_offset(
    ratios_log: Sequence[float], ratios_sd: Sequence[float], *, prior_sd: float = k.TEAM_PRIOR_LOG_SD
) -> tuple[float, float]:
    """
    Bias of the chain common to the whole team.

    Parameters
    ----------
    ratios_log : sequence of float, shape (n,)
        Log ratio of observed to model, one per rider [log].
    ratios_sd : sequence of float, shape (n,)
        Spread of each, the difference between riders included [log_sd].
    prior_sd : float
        Spread of the offset before any weighing [log_sd].

    Returns
    -------
    tuple of float
        Offset and its spread [log, log_sd]; zero and the prior spread without a weighing.

    Raises
    ------
    UnphysicalInput
        If a spread is not above zero, or an input is not finite.

    References
    ----------
    .. [1] Source key ``sweat_chain``.

    Examples
    --------
    >>> team_offset([], [])
    (0.0, 0.2)
    """
    ratios = physical("ratios_log", ratios_log)
    precisions = physical_positive("ratios_sd", ratios_sd) ** -2.0
    precision = float(physical_positive("prior_sd", prior_sd)) ** -2.0 + float(precisions.sum())
    return float(precisions @ ratios) / precision, precision**-0.5


def personal_factor(
    ratios: Sequence[float],
    *,
    prior_log_sd: float = k.FACTOR_PRIOR_LOG_SD,
    day_log_sd: float = k.STAGE_DAY_LOG_SD,
    input_log_sd: float = 0.0,
) -> PersonalFactor:
    """
    Factor from several weighed stages at once.

    Parameters
    ----------
    ratios : sequence of float, shape (n,)
        Observed over model, one per stage.
    prior_log_sd : float
        Spread between riders [log_sd].
    day_log_sd : float
        Spread from day to day [log_sd].
    input_log_sd : float
        Spread of power, wind and sun in the next forecast [log_sd].

    Returns
    -------
    PersonalFactor
        Factor, and the spread of the next stage.

    Raises
    ------
    UnphysicalInput
        If a ratio or a spread is not above zero.

    References
    ----------
    .. [1] Source key ``sweat_chain``.

    Examples
    --------
    >>> round(math.exp(personal_factor([1.20, 1.10, 1.25]).state.log_mean), 4)
    1.1607
    """
    physical("input_log_sd", input_log_sd, low=0.0)
    day_precision = float(physical_positive("day_log_sd", day_log_sd)) ** -2.0
    precision = float(physical_positive("prior_log_sd", prior_log_sd)) ** -2.0 + len(ratios) * day_precision
    log_mean = float(np.log(physical_positive("ratios", ratios)).sum()) * day_precision / precision
    state = FactorState(log_mean, precision**-0.5)
    return PersonalFactor(state, math.hypot(state.log_sd, day_log_sd, input_log_sd))
