"""A recorded ride: its work, its pauses, what the power meter missed, and a table of power along the road."""

from dataclasses import dataclass

import numpy as np

from brinebook.engine.constants import road
from brinebook.engine.errors import UnphysicalInput, physical
from brinebook.engine.units import FloatArray
from brinebook.engine.validity import Violation, range_violations

SECONDS_PER_HOUR = 3600.0
W_S_PER_KJ = 1000.0
LEAST_STEP_KM = 1e-6


@dataclass(frozen=True, kw_only=True, eq=False)
class RideRecords:
    """
    Records of a ride as a head unit wrote them, in any order; arrays of shape (r,).

    ``power_w`` and ``travelled_m`` are nan where nothing was written: a missing power is not zero watts.
    """

    at_unix_s: FloatArray
    power_w: FloatArray
    travelled_m: FloatArray


@dataclass(frozen=True, eq=False)
class RiddenAlong:
    """A ride cut into even steps of time; arrays of shape (n,). ``power_w`` is nan where no power is known."""

    end_km: FloatArray
    elapsed_h: FloatArray
    power_w: FloatArray


@dataclass(frozen=True, eq=False)
class RideSummary:
    """What a ride says: work as metered, time, pauses, the share of riding time without a power, and its steps."""

    start_at_unix_s: float
    elapsed_h: float
    paused_h: float
    n_pauses: int
    length_km: float
    work_kj: float
    mean_power_w: float
    missing_power_frac: float
    work_ratio_frac: float | None
    """Work of the whole file over the device's own sum; None where it wrote none."""
    along: RiddenAlong
    violations: tuple[Violation, ...]


@dataclass(frozen=True, eq=False)
class _Spans:
    """Spans that tile the ride: when each ends, and what was metered, ridden and missed in it."""

    edge_s: FloatArray
    metered_s: FloatArray
    missed_s: FloatArray
    paused_s: FloatArray
    work_j: FloatArray
    n_pauses: int

    def upto(self, value: FloatArray, at_s: FloatArray) -> FloatArray:
        """Return the running total of one column at given instants."""
        return np.asarray(np.interp(at_s, self.edge_s, np.concatenate([[0.0], np.cumsum(value)])))


def ride_summary(
    records: RideRecords,
    *,
    from_unix_s: float | None = None,
    to_unix_s: float | None = None,
    device_work_kj: float | None = None,
) -> RideSummary:
    """
    Read work, time and power along the road out of the records of a ride.

    Parameters
    ----------
    records : RideRecords
        What the head unit wrote.
    from_unix_s : float, optional
        Instant of the real start; all before it is left out [unix s].
    to_unix_s : float, optional
        Instant of the finish; all after it is left out [unix s].
    device_work_kj : float, optional
        Work of the whole file as the head unit itself gives it, to be compared [kJ].

    Returns
    -------
    RideSummary
        Work is the sum of power over the seconds each record stands for. Flagged: more than 5 % of riding time
        without a power, and work more than 1.5 % off the device's own.

    Raises
    ------
    UnphysicalInput
        If fewer than two records lie between start and finish, or a time is not a number.

    Notes
    -----
    A record stands for the time to the next one, but after a gap of more than 5 s for one second only: power times
    gap would invent work. In such a gap a rider who got no further has paused; one who did has lost the recording,
    and that time counts as missing power. The session's mean power is never read: many devices leave out zeros.

    References
    ----------
    .. [1] Source key ``ride_rules``.

    Examples
    --------
    >>> seconds = np.arange(600.0)
    >>> ride = ride_summary(RideRecords(
    ...     at_unix_s=seconds, power_w=np.full(600, 200.0), travelled_m=10.0 * seconds))
    >>> round(ride.work_kj, 3), ride.n_pauses
    (120.0, 0)
    """
    whole = _sorted(records)
    ratio = _work_ratio_frac(whole, device_work_kj)
    at_s, power_w, travelled_m = _cropped(whole, from_unix_s, to_unix_s)
    spans = _spans(at_s, power_w, travelled_m)
    along = _along(spans, at_s, travelled_m)
    metered_s, missed_s = float(spans.metered_s.sum()), float(spans.missed_s.sum())
    riding_s = metered_s + missed_s
    missing_frac = missed_s / riding_s if riding_s > 0.0 else 0.0
    work_j = float(spans.work_j.sum())
    return RideSummary(
        start_at_unix_s=float(at_s[0]),
        elapsed_h=float(spans.edge_s[-1] - at_s[0]) / SECONDS_PER_HOUR,
        paused_h=float(spans.paused_s.sum()) / SECONDS_PER_HOUR,
        n_pauses=spans.n_pauses,
        length_km=float(travelled_m[-1] - travelled_m[0]) / 1000.0,
        work_kj=work_j / W_S_PER_KJ,
        mean_power_w=work_j / metered_s if metered_s > 0.0 else 0.0,
        missing_power_frac=missing_frac,
        work_ratio_frac=ratio,
        along=along,
        violations=ride_violations(missing_power_frac=missing_frac, work_ratio_frac=ratio),
    )


def ride_violations(*, missing_power_frac: float, work_ratio_frac: float | None) -> tuple[Violation, ...]:
    """
    Say what leaves a recording in doubt.

    Parameters
    ----------
    missing_power_frac : float
        Share of the riding time without a power [frac].
    work_ratio_frac : float or None
        Work of the whole file over the device's own sum [frac].

    Returns
    -------
    tuple of Violation
        More than 5 % of power missing; work more than 1.5 % off.

    References
    ----------
    .. [1] Source key ``ride_rules``.
    """
    missing = range_violations("ride", "missing_power_frac", missing_power_frac, low=0.0, high=road.RIDE_MISSING_FRAC)
    if work_ratio_frac is None:
        return missing
    return missing + range_violations(
        "ride", "work_ratio_frac", work_ratio_frac, low=1.0 - road.RIDE_WORK_FRAC, high=1.0 + road.RIDE_WORK_FRAC
    )


def _work_ratio_frac(
    whole: tuple[FloatArray, FloatArray, FloatArray], device_work_kj: float | None
) -> float | None:
    """Compare the whole file's work with the device's own sum."""
    if device_work_kj is None or float(physical("device_work_kj", device_work_kj, low=0.0)) == 0.0:
        return None
    return float(_spans(*whole).work_j.sum()) / W_S_PER_KJ / device_work_kj


def _sorted(records: RideRecords) -> tuple[FloatArray, FloatArray, FloatArray]:
    at_s = physical("at_unix_s", records.at_unix_s)
    order = np.argsort(at_s, kind="stable")
    # Of several records of one instant the first counts.
    order = order[np.diff(at_s[order], prepend=-np.inf) > 0.0]
    power_w = np.asarray(records.power_w, dtype=np.float64)[order]
    is_metered = np.isfinite(power_w) & (power_w >= 0.0) & (power_w <= road.RIDE_POWER_LIMIT_W)
    return at_s[order], np.where(is_metered, power_w, np.nan), _travelled_m(records, order)


def _travelled_m(records: RideRecords, order: np.ndarray[tuple[int, ...], np.dtype[np.intp]]) -> FloatArray:
    """Draw missing distances between their neighbours; a wheel never turns back."""
    travelled_m = np.asarray(records.travelled_m, dtype=np.float64)[order]
    known = np.flatnonzero(np.isfinite(travelled_m))
    if known.size == 0:
        return np.zeros_like(travelled_m)
    at_s = np.asarray(records.at_unix_s, dtype=np.float64)[order]
    return np.maximum.accumulate(np.interp(at_s, at_s[known], travelled_m[known]))


def _cropped(
    whole: tuple[FloatArray, FloatArray, FloatArray], from_unix_s: float | None, to_unix_s: float | None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    at_s = whole[0]
    low = -np.inf if from_unix_s is None else float(physical("from_unix_s", from_unix_s))
    high = np.inf if to_unix_s is None else float(physical("to_unix_s", to_unix_s))
    inside = np.flatnonzero((at_s >= low) & (at_s <= high))
    if inside.size < 2:  # noqa: PLR2004 - a ride has two ends
        raise UnphysicalInput("n_records", float(inside.size))
    cut = slice(int(inside[0]), int(inside[-1]) + 1)
    return whole[0][cut], whole[1][cut], whole[2][cut]


def _spans(at_s: FloatArray, power_w: FloatArray, travelled_m: FloatArray) -> _Spans:
    gap_s = np.diff(at_s)
    is_long = gap_s > road.RIDE_GAP_S
    counted_s = np.append(np.where(is_long, road.RIDE_RECORD_S, gap_s), road.RIDE_RECORD_S)
    gone_s = np.append(np.where(is_long, gap_s - road.RIDE_RECORD_S, 0.0), 0.0)
    moved_m_per_s = np.append(np.diff(travelled_m) / gap_s, 0.0)
    is_pause = (gone_s > 0.0) & (moved_m_per_s <= road.RIDE_STANDING_M_PER_S)
    is_metered = np.isfinite(power_w)
    zero = np.zeros_like(counted_s)
    # Each record gives two spans: the seconds it stands for, and what is gone until the next one.
    return _Spans(
        edge_s=at_s[0] + np.concatenate([[0.0], np.cumsum(_pairs(counted_s, gone_s))]),
        metered_s=_pairs(np.where(is_metered, counted_s, 0.0), zero),
        missed_s=_pairs(np.where(is_metered, 0.0, counted_s), np.where(is_pause, 0.0, gone_s)),
        paused_s=_pairs(zero, np.where(is_pause, gone_s, 0.0)),
        work_j=_pairs(np.where(is_metered, power_w, 0.0) * counted_s, zero),
        n_pauses=int(is_pause.sum()),
    )


def _pairs(first: FloatArray, second: FloatArray) -> FloatArray:
    return np.stack([first, second], axis=1).ravel()


def _along(spans: _Spans, at_s: FloatArray, travelled_m: FloatArray) -> RiddenAlong:
    n = max(1, int(np.ceil((spans.edge_s[-1] - spans.edge_s[0]) / road.RIDE_STEP_S)))
    edges_s = np.linspace(spans.edge_s[0], spans.edge_s[-1], n + 1)
    metered_s, missed_s, work_j = (
        np.diff(spans.upto(column, edges_s)) for column in (spans.metered_s, spans.missed_s, spans.work_j)
    )
    # A few missing seconds take the mean of the step; a step without any metered second has no power.
    mean_w = work_j / np.where(metered_s > 0.0, metered_s, 1.0)
    filled_w = mean_w * (metered_s + missed_s) / np.diff(edges_s)
    return RiddenAlong(
        end_km=(np.interp(edges_s[1:], at_s, travelled_m) - travelled_m[0]) / 1000.0,
        elapsed_h=(edges_s[1:] - edges_s[0]) / SECONDS_PER_HOUR,
        power_w=np.where((metered_s > 0.0) | (missed_s == 0.0), filled_w, np.nan),
    )


def finish_at_unix_s(records: RideRecords, *, from_unix_s: float, length_km: float) -> float:
    """
    Instant at which a rider had ridden the course, by the distance of his own file.

    Parameters
    ----------
    records : RideRecords
        What the head unit wrote.
    from_unix_s : float
        Instant of the real start [unix s].
    length_km : float
        Length of the course from there [km].

    Returns
    -------
    float
        The instant [unix s]; the end of the file when it never got so far.

    Raises
    ------
    UnphysicalInput
        If there are no records after the start.

    References
    ----------
    .. [1] Source key ``ride_rules``.
    """
    at_s, _, travelled_m = _cropped(_sorted(records), from_unix_s, None)
    done_m = travelled_m[0] + 1000.0 * float(physical("length_km", length_km, low=0.0))
    if travelled_m[-1] <= done_m:
        return float(at_s[-1])
    return float(at_s[int(np.searchsorted(travelled_m, done_m, side="left"))])


def riding_at(
    along: RiddenAlong, *, distance_m: FloatArray
) -> tuple[FloatArray, FloatArray, float]:
    """
    Time and power of a ride at the nodes of a course.

    Parameters
    ----------
    along : RiddenAlong
        The ride in steps of time.
    distance_m : array, shape (n + 1,)
        Nodes of the course from the real start [m]; the ride's own distance is stretched to its length.

    Returns
    -------
    tuple of array
        Duration of each of the n steps [s]; mean power of each [W], nan where unknown; stretch of the ride's distance
        [frac].

    Raises
    ------
    UnphysicalInput
        If the ride has no distance.

    References
    ----------
    .. [1] Source key ``ride_rules``.
    """
    ridden_km = float(along.end_km[-1])
    if not ridden_km > 0.0:
        raise UnphysicalInput("length_km", ridden_km)
    stretch = float(distance_m[-1]) / 1000.0 / ridden_km
    known_h = np.concatenate([[0.0], along.elapsed_h])
    # A pause stands at one kilometre: a hair of distance keeps the road strictly rising.
    known_km = np.concatenate([[0.0], along.end_km]) * stretch
    known_km = known_km + LEAST_STEP_KM * np.arange(known_km.size) / known_km.size
    clock_h = np.interp(distance_m / 1000.0, known_km, known_h)
    clock_h[-1] = known_h[-1]
    duration_s = np.diff(clock_h) * SECONDS_PER_HOUR
    is_known = np.isfinite(along.power_w)
    steps_h = np.diff(known_h)
    work, known = (
        np.concatenate([[0.0], np.cumsum(column * steps_h)])
        for column in (np.where(is_known, along.power_w, 0.0), is_known.astype(np.float64))
    )
    worked, metered_h = (np.diff(np.interp(clock_h, known_h, column)) for column in (work, known))
    is_metered = metered_h > 0.5 * np.diff(clock_h)
    power_w = np.where(is_metered, worked / np.where(is_metered, metered_h, 1.0), np.nan)
    return duration_s, power_w, stretch
