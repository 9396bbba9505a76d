"""Where a race lets riders be fed, and how hot the sport calls a day. The rules come as data; this judges by them."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from brinebook.engine.constants import balance as c
from brinebook.engine.errors import UnphysicalInput, physical

FeedKind = Literal["zone", "car", "roadside"]
Roadside = Literal["anywhere", "signed_zones", "signed_zones_and_climbs"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedRules:
    """One dated set of feeding rules; a jury's word for a stage is a copy with other numbers."""

    id: str
    opens_km: float
    closes_to_go_km: float
    ban_before_m: float
    ban_after_m: float
    roadside: Roadside
    climb_until_m: float = 0.0
    zone_spacing_km: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Marked:
    """A marked point of the road: sprint, bonus, summit, feed control."""

    km: float


@dataclass(frozen=True, slots=True)
class HeatBands:
    """One dated set of bands of wet-bulb globe temperature; ``from_c`` are the lower edges after the first band."""

    id: str
    names: tuple[str, ...]
    from_c: tuple[float, ...]
    care_from: str
    alarm_from: str


@dataclass(frozen=True, slots=True)
class HeatBand:
    """The band of a day: its name, its lower edge, and whether it asks for care or rings an alarm."""

    name: str
    low_c: float
    is_care: bool
    is_alarm: bool


def feed_windows_km(
    rules: FeedRules, *, length_km: float, marked: Sequence[Marked] = ()
) -> tuple[tuple[float, float], ...]:
    """
    Stretches of road on which feeding is open.

    Parameters
    ----------
    rules : FeedRules
        The dated set, or a jury's copy of it.
    length_km : float
        Length of the stage from the real start [km].
    marked : sequence of Marked
        Points around which feeding is banned.

    Returns
    -------
    tuple of tuple of float
        Begin and end of each open stretch [km], ascending; empty when the stage is too short for any.

    Raises
    ------
    UnphysicalInput
        If the length is not above zero or a point lies outside the stage.

    References
    ----------
    .. [1] Source key ``feeding_rules_news``.

    Examples
    --------
    >>> now = FeedRules(id="x", opens_km=30.0, closes_to_go_km=20.0, ban_before_m=500.0, ban_after_m=50.0,
    ...                 roadside="signed_zones")
    >>> feed_windows_km(now, length_km=150.0, marked=[Marked(80.0)])
    ((30.0, 79.5), (80.05, 130.0))
    """
    total_km = float(physical("length_km", length_km, low=c.SHORTEST_STAGE_KM))
    at_km = sorted(float(physical("marked_km", point.km, low=0.0, high=total_km)) for point in marked)
    begin, end = rules.opens_km, total_km - rules.closes_to_go_km
    windows = []
    for km in at_km:
        stop = km - rules.ban_before_m / 1000.0
        if stop > begin:
            windows.append((begin, min(stop, end)))
        begin = max(begin, km + rules.ban_after_m / 1000.0)
    if end > begin:
        windows.append((begin, end))
    return tuple((low, high) for low, high in windows if high > low)


def is_feed_allowed(
    rules: FeedRules, *, km: float, kind: FeedKind, length_km: float, marked: Sequence[Marked] = ()
) -> bool:
    """
    Whether a feed stands where the rules allow one; signed zones may stand anywhere the windows are open.

    Parameters
    ----------
    rules : FeedRules
        The dated set, or a jury's copy of it.
    km : float
        Where the feed stands [km].
    kind : str
        A signed zone, a car, or somebody at the roadside.
    length_km : float
        Length of the stage [km].
    marked : sequence of Marked
        Points around which feeding is banned.

    Returns
    -------
    bool
        False outside the open stretches, and for the roadside where only signed zones may feed.

    References
    ----------
    .. [1] Source key ``feeding_rules_news``.
    """
    if kind == "roadside" and rules.roadside == "signed_zones":
        return False
    windows = feed_windows_km(rules, length_km=length_km, marked=marked)
    reach = c.FEED_REACH_KM if kind == "zone" else 0.0
    return any(low - reach <= km <= high + reach for low, high in windows)


def heat_band(wbgt_c: float, *, bands: HeatBands) -> HeatBand:
    """
    Band of a wet-bulb globe temperature.

    Parameters
    ----------
    wbgt_c : float
        Wet-bulb globe temperature [C].
    bands : HeatBands
        The dated set.

    Returns
    -------
    HeatBand
        The band the temperature lies in; an edge belongs to the hotter band.

    Raises
    ------
    UnphysicalInput
        If the temperature is not finite, or the set's names and edges do not fit.

    References
    ----------
    .. [1] Source key ``heat_protocol_news``.
    .. [2] Source key ``armstrong2007``.

    Examples
    --------
    >>> heat_band(24.0, bands=HeatBands("x", ("cool", "hot"), (23.0,), "hot", "hot")).name
    'hot'
    """
    warm = float(physical("wbgt_c", wbgt_c))
    if len(bands.names) != len(bands.from_c) + 1 or list(bands.from_c) != sorted(bands.from_c):
        raise UnphysicalInput("from_c", float(len(bands.from_c)))
    place = sum(warm >= edge for edge in bands.from_c)
    return HeatBand(
        bands.names[place], bands.from_c[place - 1] if place else float("-inf"),
        is_care=place >= bands.names.index(bands.care_from), is_alarm=place >= bands.names.index(bands.alarm_from),
    )
