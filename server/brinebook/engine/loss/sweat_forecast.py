"""What one rider is expected to lose along one stage, as quantiles that repeat to the byte."""

from dataclasses import dataclass
from functools import cache
from statistics import NormalDist
from typing import Protocol

import numpy as np

from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import UnphysicalInput, physical, physical_positive
from brinebook.engine.loss.heat_balance import HeatBalance, heat_balance
from brinebook.engine.measure.sample_chemistry import lognormal_parameters
from brinebook.engine.units import FloatArray, sodium_mg
from brinebook.engine.validity import Violation, range_violations


class Segments(Protocol):
    """The columns of a segment table that the sweat chain reads, each of shape (n,)."""

    @property
    def duration_h(self) -> FloatArray: ...  # noqa: D102
    @property
    def power_w(self) -> FloatArray: ...  # noqa: D102
    @property
    def air_temperature_c(self) -> FloatArray: ...  # noqa: D102
    @property
    def relative_humidity_frac(self) -> FloatArray: ...  # noqa: D102
    @property
    def air_speed_m_per_s(self) -> FloatArray: ...  # noqa: D102
    @property
    def radiant_temperature_c(self) -> FloatArray: ...  # noqa: D102


@dataclass(frozen=True, slots=True)
class RiderState:
    """Body, learnt sweat factor (log-normal) and sweat sodium of one rider on one day."""

    mass_kg: float
    height_m: float
    gross_efficiency_frac: float
    factor_log_mean: float
    factor_log_sd: float
    team_offset_log: float
    sodium_mean_mmol_per_l: float
    sodium_sd_mmol_per_l: float
    is_power_measured: bool = False
    stage_log_sd: float | None = None
    """Spread of day and input as learnt from settled stages; the literature's while it is None."""


@dataclass(frozen=True, slots=True)
class SweatForecast:
    """Sweat along the stage and at its end; respiratory water stands apart."""

    cumulative_quantiles_l: FloatArray
    total_draws_l: FloatArray
    twenty_l: FloatArray
    sodium_q10_mg: float
    sodium_q50_mg: float
    sodium_q90_mg: float
    model_cumulative_l: FloatArray
    respiratory_l: float
    max_wettedness_frac: float
    share_at_cap_frac: float
    violations: tuple[Violation, ...]


def sweat_over_segments_l(rate_l_per_h: FloatArray, *, duration_h: FloatArray) -> FloatArray:
    """
    Sweat of each segment when the rate follows its steady value with a lag of ten minutes, from rest.

    Parameters
    ----------
    rate_l_per_h : array, shape (n,)
        Steady sweat rate of each segment [L/h].
    duration_h : array, shape (n,)
        Duration of each segment [h].

    Returns
    -------
    array, shape (n,)
        Sweat of each segment [L]. Exact for constant segments, so that splitting one changes nothing.

    Raises
    ------
    UnphysicalInput
        If a rate or duration is negative or not finite.

    References
    ----------
    .. [1] Source key ``iso7933``.

    Examples
    --------
    >>> float(sweat_over_segments_l(np.array([1.2]), duration_h=np.array([4.0])).round(3)[0])
    4.6
    """
    steady = physical("rate_l_per_h", rate_l_per_h, low=0.0)
    hours = physical("duration_h", duration_h, low=0.0)
    kept_frac = np.exp(-hours / k.SWEAT_TIME_H)
    before = np.empty_like(steady)
    rate = 0.0
    for index, (target, kept) in enumerate(zip(steady.tolist(), kept_frac.tolist(), strict=True)):
        before[index] = rate
        rate = target + (rate - target) * kept
    return steady * hours + (before - steady) * k.SWEAT_TIME_H * (1.0 - kept_frac)


def sweat_forecast(segments: Segments, rider: RiderState, *, n_draws: int = k.N_DRAWS) -> SweatForecast:
    """
    Predict sweat and sodium of one rider along one stage, with spread.

    Parameters
    ----------
    segments : Segments
        Power, air and duration of n segments.
    rider : RiderState
        Body, sweat factor and sweat sodium.
    n_draws : int
        Draws of the lattice, at least 2.

    Returns
    -------
    SweatForecast
        Quantiles 10, 50 and 90 % of the cumulative sweat at each segment's end, shape (3, n) [L]; the sorted totals
        and 20 equally likely ones [L]; sodium [mg]; the chain's own cumulative sweat at factor one [L].

    Raises
    ------
    UnphysicalInput
        If there is no segment or draw, or an input is impossible.

    Notes
    -----
    Factor, day and input error are one log-normal over the whole stage; where the skin is wetter than 0.6 the model's
    own doubt is added. The draws are a fixed lattice: the same inputs give the same bytes.

    References
    ----------
    .. [1] Source key ``sweat_chain``.
    """
    if segments.power_w.size == 0:
        raise UnphysicalInput("n_segments", 0.0)
    if n_draws < 2:  # noqa: PLR2004 - one draw has no spread
        raise UnphysicalInput("n_draws", n_draws)
    heat, lattice = _heat(segments, rider), _normal_lattice(n_draws)
    model_l = sweat_over_segments_l(heat.sweat_rate_l_per_h, duration_h=segments.duration_h)
    cumulative_draws_l = np.cumsum(model_l[None, :] * np.exp(_log_draws(heat, rider, lattice)), axis=1)
    totals_l = cumulative_draws_l[:, -1]
    sodium_quantiles_mg = np.quantile(sodium_mg(totals_l * _sodium_draws_mmol_per_l(rider, lattice)), k.QUANTILES)
    mid_dots = (np.arange(k.N_DOTS) + 0.5) / k.N_DOTS
    stage_h = float(segments.duration_h.sum())
    return SweatForecast(
        cumulative_quantiles_l=_quantiles_along(cumulative_draws_l),
        total_draws_l=np.sort(totals_l),
        twenty_l=np.quantile(totals_l, mid_dots),
        sodium_q10_mg=float(sodium_quantiles_mg[0]),
        sodium_q50_mg=float(sodium_quantiles_mg[1]),
        sodium_q90_mg=float(sodium_quantiles_mg[2]),
        model_cumulative_l=np.cumsum(model_l),
        respiratory_l=float(heat.respiratory_l_per_h @ segments.duration_h),
        max_wettedness_frac=float(heat.wettedness_frac.max()),
        share_at_cap_frac=float(heat.is_at_cap @ segments.duration_h) / stage_h if stage_h > 0.0 else 0.0,
        violations=_violations(segments),
    )


def _heat(segments: Segments, rider: RiderState) -> HeatBalance:
    return heat_balance(
        segments.power_w,
        mass_kg=rider.mass_kg,
        height_m=rider.height_m,
        air_temperature_c=segments.air_temperature_c,
        relative_humidity_frac=segments.relative_humidity_frac,
        air_speed_m_per_s=segments.air_speed_m_per_s,
        radiant_temperature_c=segments.radiant_temperature_c,
        gross_efficiency_frac=rider.gross_efficiency_frac,
    )


def _log_draws(heat: HeatBalance, rider: RiderState, normal: FloatArray) -> FloatArray:
    centre_log = float(physical("factor_log_mean", rider.factor_log_mean + rider.team_offset_log))
    factor_log_sd = float(physical("factor_log_sd", rider.factor_log_sd, low=0.0))
    whole_log_sd = float(np.hypot(factor_log_sd, _stage_log_sd(rider)))
    structure_log_sd = k.STRUCTURE_LOG_SD_PER_WETTEDNESS * np.clip(
        heat.wettedness_frac - k.STRUCTURE_WETTEDNESS, 0.0, 1.0
    )
    shared_log = centre_log + whole_log_sd * normal[0]
    return np.asarray(shared_log[:, None] + np.outer(normal[1], structure_log_sd), dtype=np.float64)


def _stage_log_sd(rider: RiderState) -> float:
    if rider.stage_log_sd is not None:
        return float(physical("stage_log_sd", rider.stage_log_sd, low=0.0))
    input_log_sd = k.INPUT_MEASURED_LOG_SD if rider.is_power_measured else k.INPUT_ESTIMATED_LOG_SD
    return float(np.hypot(k.STAGE_DAY_LOG_SD, input_log_sd))


def _sodium_draws_mmol_per_l(rider: RiderState, normal: FloatArray) -> FloatArray:
    physical_positive("sodium_mean_mmol_per_l", rider.sodium_mean_mmol_per_l)
    log_mean, log_sd = lognormal_parameters(rider.sodium_mean_mmol_per_l, sd=rider.sodium_sd_mmol_per_l)
    return np.asarray(np.exp(log_mean + log_sd * normal[2]), dtype=np.float64)


def _quantiles_along(cumulative_draws_l: FloatArray) -> FloatArray:
    # One segment's draws side by side in memory: sorting them costs a third of sorting down the columns.
    ascending_l: FloatArray = np.sort(np.ascontiguousarray(cumulative_draws_l.T), axis=1).T
    places = np.array(k.QUANTILES) * (ascending_l.shape[0] - 1)
    below = places.astype(np.intp)
    share = (places - below)[:, None]
    return np.asarray(ascending_l[below] * (1.0 - share) + ascending_l[below + 1] * share, dtype=np.float64)


def _violations(segments: Segments) -> tuple[Violation, ...]:
    columns = {
        "power_w": segments.power_w,
        "air_temperature_c": segments.air_temperature_c,
        "air_speed_m_per_s": segments.air_speed_m_per_s,
    }
    return tuple(
        violation
        for quantity, values in columns.items()
        for violation in range_violations(
            "sweat_chain", quantity, values, low=k.CHAIN_RANGES[quantity][0], high=k.CHAIN_RANGES[quantity][1]
        )
    )


@cache
def _normal_lattice(n_draws: int) -> FloatArray:
    """Return a Hammersley lattice of shape (3, n_draws) turned into standard normal numbers."""
    normal = NormalDist()
    places = [
        [(index + 0.5) / n_draws for index in range(n_draws)],
        [_radical_inverse(index, base=2) + 0.5 / n_draws for index in range(n_draws)],
        [_radical_inverse(index + 1, base=3) for index in range(n_draws)],
    ]
    lattice = np.array([[normal.inv_cdf(place) for place in row] for row in places])
    lattice.flags.writeable = False
    return lattice


def _radical_inverse(index: int, *, base: int) -> float:
    place, weight = 0.0, 1.0 / base
    while index:
        index, digit = divmod(index, base)
        place += digit * weight
        weight /= base
    return place
