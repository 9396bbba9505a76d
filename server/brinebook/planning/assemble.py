"""Records to engine: the road, the weather, the rider and his samples as the numbers the models ask for."""

from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from brinebook.engine.loss.heat_balance import heat_balance, mean_radiant_temperature_c
from brinebook.engine.loss.sweat_forecast import RiderState, SweatForecast, sweat_forecast, sweat_over_segments_l
from brinebook.engine.stage.course import Course, resample_course
from brinebook.engine.stage.effort import riding_energy_kcal
from brinebook.engine.stage.segments import SegmentTable, segment_stage
from brinebook.engine.stage.weather import HourlyWeather
from brinebook.records.common import RaceRole
from brinebook.records.edited import Rider, RiderBody, Stage
from brinebook.records.facts import WeighedRide

DEFAULT_EFFICIENCY_FRAC = 0.22
N_RIDE_SEGMENTS = 24
RIDE_SUN_ELEVATION_DEG = 45.0
RIDE_DIFFUSE_FRAC = 0.25


@dataclass(frozen=True)
class KeyedStage:
    """A stage under the hash of its content, so that its tables can be kept."""

    key: str
    stage: Stage = field(compare=False)


@dataclass(frozen=True)
class Ride:
    """Who rides a stage, as far as the road's tables depend on it."""

    keyed: KeyedStage
    race_role: RaceRole
    mass_kg: float
    start_offset_s: float


def ride_of(keyed: KeyedStage, rider: Rider, body: RiderBody) -> Ride:
    """Take what the road's tables need of a rider; mass to the nearest 0.1 kg, finer than any scale repeats."""
    stage = keyed.stage
    return Ride(
        keyed=keyed,
        race_role=stage.race_role_by_rider.get(rider.id, rider.race_role),
        mass_kg=round(body.mass_kg, 1),
        start_offset_s=stage.start_offset_s_by_rider.get(rider.id, 0.0),
    )


def rider_state(
    body: RiderBody, *, factor: tuple[float, float], team_offset_log: float, sodium: tuple[float, float],
    stage_log_sd: float | None = None,
) -> RiderState:
    """Join a body with its sweat factor (log mean, log sd), sweat sodium (mean, sd) and the spread of a stage."""
    return RiderState(
        mass_kg=round(body.mass_kg, 1),
        height_m=body.height_m,
        gross_efficiency_frac=efficiency_frac(body),
        factor_log_mean=factor[0],
        factor_log_sd=factor[1],
        team_offset_log=team_offset_log,
        sodium_mean_mmol_per_l=sodium[0],
        sodium_sd_mmol_per_l=sodium[1],
        stage_log_sd=stage_log_sd,
    )


def efficiency_frac(body: RiderBody) -> float:
    """Return the rider's gross efficiency, or the default."""
    return body.gross_efficiency_frac or DEFAULT_EFFICIENCY_FRAC


def course_of(stage: Stage) -> Course:
    """Put a stage's course on the grid."""
    points = stage.course
    return resample_course(
        np.array([1000.0 * point.distance_km for point in points]),
        np.array([point.elevation_m for point in points]),
        np.array([point.latitude_deg for point in points]),
        np.array([point.longitude_deg for point in points]),
    )


@lru_cache(maxsize=512)
def segments_of(ride: Ride) -> SegmentTable:
    """Cut a stage into the segments one kind of rider meets; kept, since many steps ask for the same table."""
    stage = ride.keyed.stage
    return segment_stage(
        course_of(stage),
        stage_kind=stage.kind,
        race_role=ride.race_role,
        mass_kg=ride.mass_kg,
        start_at_unix_s=stage.start_at_ms / 1000.0 + ride.start_offset_s,
        scheduled_duration_h=stage.scheduled_duration_h,
        weather=weather_of(stage),
        km0_m=1000.0 * stage.km0_km,
        break_km=tuple(feed.km for feed in stage.feed_points),
    )


@lru_cache(maxsize=2048)
def forecast_of(ride: Ride, state: RiderState) -> SweatForecast:
    """Forecast one rider's loss on one stage; kept, since settlements ask for it again."""
    return sweat_forecast(segments_of(ride), state)


@lru_cache(maxsize=2048)
def model_sweat_l(ride: Ride, height_m: float, gross_efficiency_frac: float) -> float:
    """Return the chain's own figure for a stage, before any factor [L]."""
    return chain_l(segments_of(ride), ride.mass_kg, height_m, gross_efficiency_frac)


def model_ride_l(ride: WeighedRide, body: RiderBody) -> float:
    """Return the chain's own figure for a weighed ride at constant power and weather, before any factor [L]."""
    return chain_l(_constant_segments(ride), body.mass_kg, body.height_m, efficiency_frac(body))


def energy_kcal(segments: SegmentTable, *, gross_efficiency_frac: float) -> float:
    """Return what the riding costs [kcal]: work over efficiency."""
    work_kj = float(segments.power_w @ segments.duration_h) * 3.6
    return float(riding_energy_kcal(work_kj, gross_efficiency_frac=gross_efficiency_frac))


def chain_l(segments: SegmentTable, mass_kg: float, height_m: float, gross_efficiency_frac: float) -> float:
    """Return the chain's own figure for a road, before any factor [L]."""
    heat = heat_balance(
        segments.power_w, mass_kg=mass_kg, height_m=height_m, air_temperature_c=segments.air_temperature_c,
        relative_humidity_frac=segments.relative_humidity_frac, air_speed_m_per_s=segments.air_speed_m_per_s,
        radiant_temperature_c=segments.radiant_temperature_c, gross_efficiency_frac=gross_efficiency_frac,
    )
    return float(sweat_over_segments_l(heat.sweat_rate_l_per_h, duration_h=segments.duration_h).sum())


def weather_of(stage: Stage) -> HourlyWeather:
    """Lay out a stage's forecast rows as columns."""
    rows = sorted(stage.forecast, key=lambda row: (row.at_ms, row.km))
    return HourlyWeather(
        at_unix_s=np.array([row.at_ms / 1000.0 for row in rows]),
        km=np.array([row.km for row in rows]),
        elevation_m=np.array([row.elevation_m for row in rows]),
        air_temperature_c=np.array([row.air_temperature_c for row in rows]),
        relative_humidity_frac=np.array([row.relative_humidity_frac for row in rows]),
        wind_m_per_s=np.array([row.wind_m_per_s for row in rows]),
        wind_from_deg=np.array([row.wind_from_deg for row in rows]),
        cloud_frac=np.array([row.cloud_frac for row in rows]),
        solar_w_per_m2=np.array([np.nan if row.solar_w_per_m2 is None else row.solar_w_per_m2 for row in rows]),
    )


def _constant_segments(ride: WeighedRide) -> SegmentTable:
    elapsed_h = np.linspace(0.0, ride.duration_h, N_RIDE_SEGMENTS + 1)
    diffuse_w_per_m2 = RIDE_DIFFUSE_FRAC * ride.solar_w_per_m2
    direct_w_per_m2 = (ride.solar_w_per_m2 - diffuse_w_per_m2) / np.sin(np.radians(RIDE_SUN_ELEVATION_DEG))
    radiant_c = float(mean_radiant_temperature_c(
        ride.air_temperature_c,
        global_w_per_m2=ride.solar_w_per_m2,
        diffuse_w_per_m2=diffuse_w_per_m2,
        direct_normal_w_per_m2=direct_w_per_m2,
        elevation_deg=RIDE_SUN_ELEVATION_DEG,
    ))
    along_km = 3.6 * ride.air_speed_m_per_s * elapsed_h

    def full(value: float) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
        return np.full(N_RIDE_SEGMENTS, float(value))

    return SegmentTable(
        start_km=along_km[:-1], end_km=along_km[1:], elapsed_h=elapsed_h[1:], duration_h=np.diff(elapsed_h),
        power_w=full(ride.power_w), speed_m_per_s=full(ride.air_speed_m_per_s), elevation_m=full(0.0),
        slope_frac=full(0.0), air_temperature_c=full(ride.air_temperature_c),
        relative_humidity_frac=full(max(ride.relative_humidity_frac, 0.01)),
        air_speed_m_per_s=full(ride.air_speed_m_per_s), wind_m_per_s=full(0.0), radiant_temperature_c=full(radiant_c),
        solar_w_per_m2=full(ride.solar_w_per_m2), diffuse_w_per_m2=full(diffuse_w_per_m2),
        direct_normal_w_per_m2=full(direct_w_per_m2), sun_elevation_deg=full(RIDE_SUN_ELEVATION_DEG),
    )
