"""Power, speed and time on every 50 m of a stage."""

from dataclasses import dataclass

import numpy as np

from brinebook.engine.constants import road
from brinebook.engine.errors import physical, physical_positive
from brinebook.engine.stage.course import Course
from brinebook.engine.stage.effort import RaceRole, StageKind, drag_area_m2, gradient_weight, target_power_w
from brinebook.engine.stage.power_speed import Conditions, Machine, headwind_m_per_s, road_speed_m_per_s
from brinebook.engine.stage.ride import RiddenAlong, riding_at
from brinebook.engine.stage.weather import HourlyWeather, RoadWeather, weather_along
from brinebook.engine.units import FloatArray

BALANCING_ROUNDS = 8
SECONDS_PER_HOUR = 3600.0
N_BOTTLES_ON_BIKE = 2


@dataclass(frozen=True, kw_only=True)
class RoadRider:
    """Who rides: only what the road feels."""

    mass_kg: float
    stage_kind: StageKind
    race_role: RaceRole


@dataclass(frozen=True, eq=False)
class Pacing:
    """A ride along the course; arrays per step, shape (n,)."""

    duration_s: FloatArray
    power_w: FloatArray
    speed_m_per_s: FloatArray
    weather: RoadWeather
    scale_factor: float
    """Scheduled over modelled riding time."""


def pace(
    course: Course,
    *,
    rider: RoadRider,
    start_at_unix_s: float,
    scheduled_duration_h: float | None,
    weather: HourlyWeather,
) -> Pacing:
    """
    Ride the course: power by gradient, speed by physics, weather at the predicted clock time.

    Parameters
    ----------
    course : Course
        The course from the real start.
    rider : RoadRider
        Mass, kind of day and role.
    start_at_unix_s : float
        The real start [unix s].
    scheduled_duration_h : float or None
        Riding time that the roadbook expects; None keeps the model's own [h].
    weather : HourlyWeather
        The forecast table.

    Returns
    -------
    Pacing
        Power is the model's; time is stretched to the schedule.

    Notes
    -----
    Steps of 50 m matter: time is convex in gradient, and a 1 km grid rides 6-10 points too fast.

    References
    ----------
    .. [1] Source key ``martin1998``.
    .. [2] Source key ``own_defaults``.
    """
    physical_positive("mass_kg", rider.mass_kg)
    if scheduled_duration_h is not None:
        physical("scheduled_duration_h", scheduled_duration_h, low=0.05, high=24.0)
    guessed_s = np.diff(course.distance_m) * SECONDS_PER_HOUR / 1000.0 / road.TYPICAL_SPEED_KM_PER_H[rider.stage_kind]
    if scheduled_duration_h is not None:
        guessed_s = guessed_s * scheduled_duration_h * SECONDS_PER_HOUR / guessed_s.sum()
    ridden = _ridden(course, rider, start_at_unix_s + _middle_s(guessed_s), scheduled_duration_h, weather)
    # The clock decides the weather and the wind decides the clock; a second pass leaves seconds.
    at_unix_s = start_at_unix_s + _middle_s(ridden.duration_s)
    return _ridden(course, rider, at_unix_s, scheduled_duration_h, weather)


def pace_as_ridden(
    course: Course, *, rider: RoadRider, start_at_unix_s: float, along: RiddenAlong, weather: HourlyWeather
) -> tuple[Pacing, float]:
    """
    Ride the course as it was ridden: time and power from the file, weather at the clock of the file.

    Parameters
    ----------
    course : Course
        The course from the real start.
    rider : RoadRider
        Who rode.
    start_at_unix_s : float
        When the rider set off [unix s].
    along : RiddenAlong
        The ride in steps of time.
    weather : HourlyWeather
        The forecast table.

    Returns
    -------
    tuple
        The ride, and the stretch that brought its distance to the length of the course [frac]. Where the file has no
        power the modelled one stands.

    Raises
    ------
    UnphysicalInput
        If the ride has no distance.

    References
    ----------
    .. [1] Source key ``ride_rules``.
    """
    physical_positive("mass_kg", rider.mass_kg)
    duration_s, metered_w, stretch_frac = riding_at(along, distance_m=course.distance_m)
    met = _met(course, start_at_unix_s + _middle_s(duration_s), weather)
    modelled_w, _ = _balanced(course, rider, met)
    return Pacing(
        duration_s=duration_s,
        power_w=np.where(np.isfinite(metered_w), metered_w, modelled_w),
        speed_m_per_s=np.diff(course.distance_m) / duration_s,
        weather=met,
        scale_factor=1.0,
    ), stretch_frac


def _met(course: Course, at_unix_s: FloatArray, weather: HourlyWeather) -> RoadWeather:
    return weather_along(
        weather,
        at_unix_s=at_unix_s,
        km=(course.distance_m[1:] + course.distance_m[:-1]) / 2.0 / 1000.0,
        elevation_m=(course.elevation_m[1:] + course.elevation_m[:-1]) / 2.0,
    )


def _middle_s(duration_s: FloatArray) -> FloatArray:
    return np.asarray(np.cumsum(duration_s) - duration_s / 2.0)


def _ridden(
    course: Course,
    rider: RoadRider,
    at_unix_s: FloatArray,
    scheduled_duration_h: float | None,
    weather: HourlyWeather,
) -> Pacing:
    steps_m = np.diff(course.distance_m)
    met = _met(course, at_unix_s, weather)
    power_w, free_speed_m_per_s = _balanced(course, rider, met)
    modelled_h = float((steps_m / free_speed_m_per_s).sum()) / SECONDS_PER_HOUR
    scale_factor = 1.0 if scheduled_duration_h is None else scheduled_duration_h / modelled_h
    speed_m_per_s = free_speed_m_per_s / scale_factor
    return Pacing(
        duration_s=steps_m / speed_m_per_s,
        power_w=power_w,
        speed_m_per_s=speed_m_per_s,
        weather=met,
        scale_factor=scale_factor,
    )


def _balanced(course: Course, rider: RoadRider, met: RoadWeather) -> tuple[FloatArray, FloatArray]:
    steps_m = np.diff(course.distance_m)
    to_finish_m = course.distance_m[-1] - course.distance_m[:-1]
    weight = gradient_weight(course.gradient_frac, to_finish_m=to_finish_m, stage_kind=rider.stage_kind)
    target_w = target_power_w(rider.mass_kg, stage_kind=rider.stage_kind, race_role=rider.race_role)
    limit_w = road.CLIMB_POWER_LIMIT_W_PER_KG * rider.mass_kg
    machine = Machine(
        mass_kg=rider.mass_kg + road.BIKE_AND_KIT_KG + N_BOTTLES_ON_BIKE * road.BOTTLE_ON_BIKE_KG,
        drag_area_m2=drag_area_m2(course.gradient_frac, stage_kind=rider.stage_kind, race_role=rider.race_role),
    )
    conditions = Conditions(
        gradient_frac=course.gradient_frac,
        air_density_kg_per_m3=met.air_density_kg_per_m3,
        headwind_m_per_s=headwind_m_per_s(
            met.wind_m_per_s, wind_from_deg=met.wind_from_deg, bearing_deg=course.bearing_deg
        ),
    )
    level_w = target_w
    power_w = np.minimum(level_w * weight, limit_w)
    speed_m_per_s = road_speed_m_per_s(power_w, machine=machine, conditions=conditions)
    for _ in range(BALANCING_ROUNDS):
        mean_w = float(np.average(power_w, weights=steps_m / speed_m_per_s))
        level_w = min(level_w * target_w / max(mean_w, 1.0), limit_w)
        power_w = np.minimum(level_w * weight, limit_w)
        speed_m_per_s = road_speed_m_per_s(power_w, machine=machine, conditions=conditions)
    return power_w, speed_m_per_s
