"""The road as the heat model needs it: segments of about five minutes, with power, air, wind and sun."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from brinebook.engine.constants import road
from brinebook.engine.errors import physical
from brinebook.engine.loss.heat_balance import mean_radiant_temperature_c
from brinebook.engine.stage.air import saturation_vapour_pressure_pa
from brinebook.engine.stage.course import Course, from_real_start
from brinebook.engine.stage.effort import RaceRole, StageKind, air_speed_shelter_frac
from brinebook.engine.stage.pacing import Pacing, RoadRider, pace, pace_as_ridden
from brinebook.engine.stage.ride import RiddenAlong
from brinebook.engine.stage.sun import (
    Irradiance,
    SunPosition,
    clear_sky_gain,
    clear_sky_w_per_m2,
    cloud_factor,
    shaded,
    split_irradiance,
    sun_position,
)
from brinebook.engine.stage.weather import HourlyWeather, uncovered_h
from brinebook.engine.units import FloatArray
from brinebook.engine.validity import Violation, range_violations

CLOSEST_BREAKS_M = 1.0


@dataclass(frozen=True, eq=False)
class SegmentTable:
    """A stage cut into n segments; every array has shape (n,). Kilometres count from the real start."""

    start_km: NDArray[np.float64]
    end_km: NDArray[np.float64]
    elapsed_h: NDArray[np.float64]
    """Hours since the real start, at the end of each segment."""
    duration_h: NDArray[np.float64]
    power_w: NDArray[np.float64]
    speed_m_per_s: NDArray[np.float64]
    elevation_m: NDArray[np.float64]
    slope_frac: NDArray[np.float64]
    air_temperature_c: NDArray[np.float64]
    relative_humidity_frac: NDArray[np.float64]
    air_speed_m_per_s: NDArray[np.float64]
    """Mean air speed past the rider, shelter of the group included."""
    wind_m_per_s: NDArray[np.float64]
    """Mean wind at 10 m, as a forecast gives it."""
    radiant_temperature_c: NDArray[np.float64]
    solar_w_per_m2: NDArray[np.float64]
    diffuse_w_per_m2: NDArray[np.float64]
    direct_normal_w_per_m2: NDArray[np.float64]
    sun_elevation_deg: NDArray[np.float64]
    scale_factor: float = 1.0
    """Scheduled over modelled riding time; 1 when no schedule is known."""
    violations: tuple[Violation, ...] = ()


def segment_stage(  # noqa: PLR0913 -- a stage, a rider, a clock and a sky; grouping them would only move the list
    course: Course,
    *,
    stage_kind: StageKind,
    race_role: RaceRole,
    mass_kg: float,
    start_at_unix_s: float,
    scheduled_duration_h: float | None,
    weather: HourlyWeather,
    km0_m: float = 0.0,
    break_km: Sequence[float] = (),
) -> SegmentTable:
    """
    Cut a stage into segments of at most five minutes, with a cut at each given kilometre.

    Parameters
    ----------
    course : Course
        The course from the first point of its file.
    stage_kind : str
        What kind of day.
    race_role : str
        What the rider does in the race.
    mass_kg : float
        Body mass [kg].
    start_at_unix_s : float
        The real start, where kilometres begin [unix s].
    scheduled_duration_h : float or None
        Riding time of the roadbook; None keeps the model's own [h].
    weather : HourlyWeather
        The forecast table.
    km0_m : float
        Length of the neutral roll-out before the real start, left out of the table [m].
    break_km : sequence of float
        Kilometres from the real start where a segment must end, such as feed points [km].

    Returns
    -------
    SegmentTable
        Means over time in each segment; energy, time and distance are conserved by the cutting.

    Notes
    -----
    A ``scale_factor`` outside 0.85-1.20 is flagged: the schedule and the physics disagree.

    References
    ----------
    .. [1] Source key ``own_defaults``.
    """
    ridden = from_real_start(course, km0_m=km0_m)
    rider = RoadRider(mass_kg=mass_kg, stage_kind=stage_kind, race_role=race_role)
    pacing = pace(
        ridden,
        rider=rider,
        start_at_unix_s=start_at_unix_s,
        scheduled_duration_h=scheduled_duration_h,
        weather=weather,
    )
    return _cut(ridden, rider, pacing, start_at_unix_s=start_at_unix_s, weather=weather, break_km=break_km)


def segment_ride(  # noqa: PLR0913 -- a stage, a rider, his file and a sky
    course: Course,
    *,
    stage_kind: StageKind,
    race_role: RaceRole,
    mass_kg: float,
    start_at_unix_s: float,
    along: RiddenAlong,
    weather: HourlyWeather,
    km0_m: float = 0.0,
    break_km: Sequence[float] = (),
) -> SegmentTable:
    """
    Cut a stage as one rider rode it: power and time from his file, the rest as in ``segment_stage``.

    Parameters
    ----------
    course : Course
        The course from the first point of its file.
    stage_kind : str
        What kind of day.
    race_role : str
        What the rider did in the race; decides shelter and, where the file has none, power.
    mass_kg : float
        Body mass [kg].
    start_at_unix_s : float
        When the rider set off from the real start [unix s].
    along : RiddenAlong
        His ride from there.
    weather : HourlyWeather
        The forecast table, or what was observed.
    km0_m : float
        Length of the neutral roll-out before the real start [m].
    break_km : sequence of float
        Kilometres from the real start where a segment must end [km].

    Returns
    -------
    SegmentTable
        Flagged when the ride's distance is more than 2 % off the course's.

    Raises
    ------
    UnphysicalInput
        If the ride has no distance.

    References
    ----------
    .. [1] Source key ``ride_rules``.
    """
    ridden = from_real_start(course, km0_m=km0_m)
    rider = RoadRider(mass_kg=mass_kg, stage_kind=stage_kind, race_role=race_role)
    pacing, stretch_frac = pace_as_ridden(
        ridden, rider=rider, start_at_unix_s=start_at_unix_s, along=along, weather=weather
    )
    table = _cut(ridden, rider, pacing, start_at_unix_s=start_at_unix_s, weather=weather, break_km=break_km)
    off = range_violations(
        "ride", "stretch_frac", stretch_frac, low=1.0 - road.RIDE_STRETCH_FRAC, high=1.0 + road.RIDE_STRETCH_FRAC
    )
    return replace(table, violations=table.violations + off)


def _cut(
    course: Course,
    rider: RoadRider,
    pacing: Pacing,
    *,
    start_at_unix_s: float,
    weather: HourlyWeather,
    break_km: Sequence[float],
) -> SegmentTable:
    clock_s = np.concatenate([[0.0], np.cumsum(pacing.duration_s)])
    cuts_m = _cuts_m(course.distance_m, clock_s, break_km)
    cuts_s = np.interp(cuts_m, course.distance_m, clock_s)
    means = _Means(clock_s=clock_s, cuts_s=cuts_s, duration_s=pacing.duration_s)
    return _table(course, rider, pacing, means=means, cuts_m=cuts_m, start_at_unix_s=start_at_unix_s, weather=weather)


@dataclass(frozen=True, eq=False)
class _Means:
    """Time means over the cuts of what is constant on each 50 m step."""

    clock_s: FloatArray
    cuts_s: FloatArray
    duration_s: FloatArray

    def of(self, value: FloatArray) -> FloatArray:
        """Return the exact mean over each segment of one value per step."""
        total = np.concatenate([[0.0], np.cumsum(value * self.duration_s)])
        return np.asarray(np.diff(np.interp(self.cuts_s, self.clock_s, total)) / np.diff(self.cuts_s))


def _cuts_m(distance_m: FloatArray, clock_s: FloatArray, break_km: Sequence[float]) -> FloatArray:
    length_m = float(distance_m[-1])
    breaks_m = np.sort(physical("break_km", np.asarray(break_km, dtype=np.float64)) * 1000.0)
    breaks_m = breaks_m[(breaks_m > CLOSEST_BREAKS_M) & (breaks_m < length_m - CLOSEST_BREAKS_M)]
    is_apart = np.diff(breaks_m, prepend=-np.inf) > CLOSEST_BREAKS_M
    hard_m = np.concatenate([[0.0], breaks_m[is_apart], [length_m]])
    hard_s = np.interp(hard_m, distance_m, clock_s)
    pieces = [hard_m[:1]]
    for i, (begin_s, end_s) in enumerate(pairwise(hard_s)):
        n_parts = max(1, int(np.ceil((end_s - begin_s) / (road.SEGMENT_H * 3600.0))))
        inner_s = np.linspace(begin_s, end_s, n_parts + 1)[1:-1]
        pieces += [np.interp(inner_s, clock_s, distance_m), hard_m[i + 1 : i + 2]]
    return np.concatenate(pieces)


def _table(  # noqa: PLR0913 -- private, the parts of one table
    course: Course,
    rider: RoadRider,
    pacing: Pacing,
    *,
    means: _Means,
    cuts_m: FloatArray,
    start_at_unix_s: float,
    weather: HourlyWeather,
) -> SegmentTable:
    met = pacing.weather
    duration_s = np.diff(means.cuts_s)
    elevation_m = means.of((course.elevation_m[1:] + course.elevation_m[:-1]) / 2.0)
    air_c = means.of(met.air_temperature_c)
    vapour_pa = means.of(met.vapour_pressure_pa)
    middle_s = (means.cuts_s[1:] + means.cuts_s[:-1]) / 2.0
    middle_m = (cuts_m[1:] + cuts_m[:-1]) / 2.0
    sun = sun_position(
        start_at_unix_s + middle_s,
        latitude_deg=np.interp(middle_m, course.distance_m, course.latitude_deg),
        longitude_deg=np.interp(middle_m, course.distance_m, course.longitude_deg),
    )
    light, light_violations = _light(sun, means.of(met.cloud_frac), means.of(met.solar_w_per_m2), elevation_m)
    return SegmentTable(
        start_km=cuts_m[:-1] / 1000.0,
        end_km=cuts_m[1:] / 1000.0,
        elapsed_h=means.cuts_s[1:] / 3600.0,
        duration_h=duration_s / 3600.0,
        power_w=means.of(pacing.power_w),
        speed_m_per_s=np.diff(cuts_m) / duration_s,
        elevation_m=elevation_m,
        slope_frac=np.diff(np.interp(cuts_m, course.distance_m, course.elevation_m)) / np.diff(cuts_m),
        air_temperature_c=air_c,
        relative_humidity_frac=np.minimum(vapour_pa / saturation_vapour_pressure_pa(air_c), 1.0),
        air_speed_m_per_s=means.of(_air_speed_m_per_s(course, rider, pacing)),
        wind_m_per_s=means.of(met.wind_m_per_s) / road.WIND_AT_RIDER_OPEN_FRAC,
        radiant_temperature_c=np.asarray(
            mean_radiant_temperature_c(
                air_c,
                global_w_per_m2=light.global_w_per_m2,
                diffuse_w_per_m2=light.diffuse_w_per_m2,
                direct_normal_w_per_m2=light.direct_normal_w_per_m2,
                elevation_deg=np.maximum(sun.elevation_deg, 0.0),
            )
        ),
        solar_w_per_m2=light.global_w_per_m2,
        diffuse_w_per_m2=light.diffuse_w_per_m2,
        direct_normal_w_per_m2=light.direct_normal_w_per_m2,
        sun_elevation_deg=sun.elevation_deg,
        scale_factor=pacing.scale_factor,
        violations=light_violations
        + _violations(pacing, weather, start_at_unix_s=start_at_unix_s, finish_s=float(means.cuts_s[-1])),
    )


def _air_speed_m_per_s(course: Course, rider: RoadRider, pacing: Pacing) -> FloatArray:
    angle_rad = np.radians(pacing.weather.wind_from_deg - course.bearing_deg)
    wind_m_per_s = pacing.weather.wind_m_per_s
    along_m_per_s = pacing.speed_m_per_s + wind_m_per_s * np.cos(angle_rad)
    free_m_per_s = np.hypot(along_m_per_s, wind_m_per_s * np.sin(angle_rad))
    return np.asarray(
        free_m_per_s
        * air_speed_shelter_frac(course.gradient_frac, stage_kind=rider.stage_kind, race_role=rider.race_role)
    )


def _light(
    sun: SunPosition, cloud_frac: FloatArray, given_w_per_m2: FloatArray, elevation_m: FloatArray
) -> tuple[Irradiance, tuple[Violation, ...]]:
    clear_w_per_m2 = clear_sky_w_per_m2(sun.apparent_elevation_deg) * clear_sky_gain(elevation_m)
    limit_w_per_m2 = road.SOLAR_LIMIT_RATIO * clear_w_per_m2
    modelled_w_per_m2 = clear_w_per_m2 * cloud_factor(np.clip(cloud_frac, 0.0, 1.0))
    is_given = np.isfinite(given_w_per_m2)
    # Hourly means straddle dawn and dusk, so a low sun is capped without a word.
    is_judged = is_given & (sun.elevation_deg > road.JUDGED_ELEVATION_DEG)
    ratio = np.where(is_judged, given_w_per_m2 / np.maximum(clear_w_per_m2, 1.0), 0.0)
    global_w_per_m2 = np.where(is_given, np.minimum(given_w_per_m2, limit_w_per_m2), modelled_w_per_m2)
    light = split_irradiance(
        global_w_per_m2, sun_elevation_deg=sun.elevation_deg, orbit_frac=sun.orbit_frac
    )
    return shaded(light), range_violations("sun", "solar_ratio", ratio, low=0.0, high=road.SOLAR_LIMIT_RATIO)


def _violations(
    pacing: Pacing, weather: HourlyWeather, *, start_at_unix_s: float, finish_s: float
) -> tuple[Violation, ...]:
    gap_h = uncovered_h(weather, start_at_unix_s=start_at_unix_s, finish_at_unix_s=start_at_unix_s + finish_s)
    return (
        *range_violations(
            "segments", "scale_factor", pacing.scale_factor, low=road.SCALE_FACTOR_LOW, high=road.SCALE_FACTOR_HIGH
        ),
        *range_violations("weather", "uncovered_h", gap_h, low=0.0, high=road.UNCOVERED_LIMIT_H),
        *range_violations(
            "weather", "wind_m_per_s", weather.wind_m_per_s, low=0.0, high=road.WIND_LIMIT_M_PER_S
        ),
    )
