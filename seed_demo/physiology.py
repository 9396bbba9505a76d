"""The bodies nobody sees: hidden sweat factors and sodium, days that differ, scales that wobble."""

import math
import random
from dataclasses import dataclass
from functools import cache

import numpy as np
from brinebook.engine.constants.sweat import ChainParameters
from brinebook.engine.loss.heat_balance import HeatBalance, heat_balance, mean_radiant_temperature_c
from brinebook.engine.stage.course import Course, resample_course
from brinebook.engine.stage.segments import SegmentTable, segment_stage
from brinebook.engine.stage.weather import HourlyWeather
from brinebook.engine.units import FloatArray

from seed_demo.courses import STEP_M, track
from seed_demo.race import StageCard, stages
from seed_demo.squad import RIDERS, RiderCard
from seed_demo.weather import weather_hours

TEAM_OFFSET_LOG = 0.0
RIDER_LOG_SD = 0.20
DAY_LOG_SD = 0.12
POWER_LOG_SD = 0.04
SCALE_SD_KG = 0.10
EFFICIENCY_MEAN_FRAC, EFFICIENCY_SD_FRAC = 0.22, 0.008
FOREARM_LOG_MEAN, FOREARM_LOG_SD = 3.70, 0.40
FOREARM_DAY_LOG_SD, FOREARM_ARM_LOG_SD = 0.10, 0.06
WHOLE_BODY_INTERCEPT, WHOLE_BODY_SLOPE, WHOLE_BODY_SD_MMOL_PER_L = 11.05, 0.57, 5.0
SODIUM_DAY_LOG_SD = 0.10
MAX_SWEAT_L_PER_H = 2.0
ACCLIMATISATION_GAIN_LOG = 0.08
ACCLIMATISATION_HOT_DAYS = 4.0
SODIUM_MG_PER_MMOL = 22.99
NOT_SWEAT_KG_PER_KCAL = 0.0002
"""Breath and carbon lost per kilocalorie spent."""
KJ_PER_KCAL = 4.184
LAG_H = 10.0 / 60.0
TRUE_CHAIN = ChainParameters(base_g_per_m2_h=70.0, permeability_frac=1.0)
"""Where the true bodies differ from the model's idea of a body, beyond the factor."""


@dataclass(frozen=True)
class HiddenRider:
    """What the play knows of one rider and the server must find out."""

    card: RiderCard
    log_factor: float
    forearm_mmol_per_l: float
    whole_body_mmol_per_l: float
    gross_efficiency_frac: float


@dataclass(frozen=True)
class TestRide:
    """A weighed ride before the race, as the scales and the soigneur's notes show it."""

    mass_before_kg: float
    mass_after_kg: float
    fluid_drunk_l: float
    duration_h: float = 2.0
    power_w: float = 200.0
    air_temperature_c: float = 24.0
    relative_humidity_frac: float = 0.5
    air_speed_m_per_s: float = 8.0
    solar_w_per_m2: float = 600.0


@dataclass(frozen=True)
class StageTruth:
    """What one rider truly lost on one stage."""

    duration_h: float
    sweat_l: float
    respiratory_l: float
    not_sweat_kg: float
    energy_kcal: float
    sodium_mg: float


@cache
def hidden_riders() -> dict[str, HiddenRider]:
    """Draw the squad's hidden bodies; the draw is the same each time."""
    rng = random.Random("hidden-bodies-3972")
    drawn = {}
    for card in RIDERS:
        forearm = math.exp(rng.gauss(FOREARM_LOG_MEAN, FOREARM_LOG_SD))
        whole = WHOLE_BODY_INTERCEPT + WHOLE_BODY_SLOPE * forearm + rng.gauss(0, WHOLE_BODY_SD_MMOL_PER_L)
        drawn[card.id] = HiddenRider(
            card=card, log_factor=TEAM_OFFSET_LOG + rng.gauss(0, RIDER_LOG_SD), forearm_mmol_per_l=min(130.0, forearm),
            whole_body_mmol_per_l=max(12.0, whole),
            gross_efficiency_frac=rng.gauss(EFFICIENCY_MEAN_FRAC, EFFICIENCY_SD_FRAC),
        )
    return drawn


def acclimatisation(day_index: int) -> float:
    """Return how much more [log] a rider sweats after the hot days behind him."""
    n_hot = sum(stage.is_hot for stage in stages() if stage.day_index < day_index)
    return ACCLIMATISATION_GAIN_LOG * (1.0 - math.exp(-n_hot / ACCLIMATISATION_HOT_DAYS))


@cache
def _course(stage: StageCard) -> Course:
    points = np.array(track(stage))
    # The track is laid out in even steps, so its distance needs no second measuring.
    distance_m = np.arange(len(points)) * STEP_M
    return resample_course(distance_m, points[:, 2], points[:, 0], points[:, 1])


@cache
def _true_weather(stage: StageCard) -> HourlyWeather:
    hours = sorted(weather_hours(stage, "truth"), key=lambda hour: (hour.at, hour.km))
    return HourlyWeather(
        at_unix_s=np.array([hour.at.timestamp() for hour in hours]),
        km=np.array([hour.km for hour in hours]),
        elevation_m=np.array([hour.elevation_m for hour in hours]),
        air_temperature_c=np.array([hour.air_temperature_c for hour in hours]),
        relative_humidity_frac=np.array([hour.relative_humidity_frac for hour in hours]),
        wind_m_per_s=np.array([hour.wind_m_per_s for hour in hours]),
        wind_from_deg=np.array([hour.wind_from_deg for hour in hours]),
        cloud_frac=np.array([hour.cloud_frac for hour in hours]),
        solar_w_per_m2=np.full(len(hours), np.nan),
    )


def _segments(card: RiderCard, stage: StageCard, duration_h: float) -> SegmentTable:
    return segment_stage(
        _course(stage), stage_kind=stage.kind, race_role=card.race_role, mass_kg=card.mass_kg,
        start_at_unix_s=stage.start_at_ms / 1000.0, scheduled_duration_h=duration_h, weather=_true_weather(stage),
    )


def _balance(rider: HiddenRider, segments: SegmentTable, power_share: float) -> HeatBalance:
    return heat_balance(
        segments.power_w * power_share, mass_kg=rider.card.mass_kg, height_m=rider.card.height_m,
        air_temperature_c=segments.air_temperature_c, relative_humidity_frac=segments.relative_humidity_frac,
        air_speed_m_per_s=segments.air_speed_m_per_s, radiant_temperature_c=segments.radiant_temperature_c,
        gross_efficiency_frac=rider.gross_efficiency_frac, parameters=TRUE_CHAIN,
    )


def _lagged_l(rate_l_per_h: FloatArray, duration_h: FloatArray) -> float:
    """Integrate a rate that sweating follows with a lag, from rest."""
    total_l, rate = 0.0, 0.0
    for aim, hours in zip(rate_l_per_h, duration_h, strict=True):
        left = math.exp(-hours / LAG_H)
        total_l += aim * hours + (rate - aim) * LAG_H * (1.0 - left)
        rate = aim + (rate - aim) * left
    return float(total_l)


@cache
def stage_truth(rider_id: str, stage: StageCard) -> StageTruth:
    """Work out what a rider truly loses on a stage, in the true weather at his true power, on that day of his."""
    rider = hidden_riders()[rider_id]
    rng = random.Random(f"truth-{stage.number}-{rider_id}")
    pace = random.Random(f"pace-{stage.number}").gauss(1.0, 0.03)
    duration_h = stage.scheduled_duration_h * pace * rng.gauss(1.0, 0.006)
    power_share = math.exp(rng.gauss(0, POWER_LOG_SD))
    segments = _segments(rider.card, stage, duration_h)
    balance = _balance(rider, segments, power_share)
    warmed_log = acclimatisation(stage.day_index)
    factor = math.exp(rider.log_factor + warmed_log + rng.gauss(0, DAY_LOG_SD))
    wanted_l = factor * _lagged_l(balance.sweat_rate_l_per_h, segments.duration_h)
    sweat_l = min(wanted_l, MAX_SWEAT_L_PER_H * duration_h)
    energy_kcal = float(np.sum(balance.metabolic_power_w * segments.duration_h)) * 3.6 / KJ_PER_KCAL
    sodium_mmol_per_l = rider.whole_body_mmol_per_l * math.exp(-warmed_log + rng.gauss(0, SODIUM_DAY_LOG_SD))
    return StageTruth(
        duration_h=float(segments.elapsed_h[-1]), sweat_l=sweat_l,
        respiratory_l=float(np.sum(balance.respiratory_l_per_h * segments.duration_h)),
        not_sweat_kg=NOT_SWEAT_KG_PER_KCAL * energy_kcal, energy_kcal=energy_kcal,
        sodium_mg=sweat_l * sodium_mmol_per_l * SODIUM_MG_PER_MMOL,
    )


@cache
def forearm_arms(rider_id: str) -> tuple[float, float]:
    """Return the sodium [mmol/L] that both arms' samples show on sweat day."""
    rng = random.Random(f"forearm-{rider_id}")
    day_log = rng.gauss(0, FOREARM_DAY_LOG_SD)
    forearm = hidden_riders()[rider_id].forearm_mmol_per_l
    left, right = (forearm * math.exp(day_log + rng.gauss(0, FOREARM_ARM_LOG_SD)) for _ in range(2))
    return left, right


@cache
def test_ride(rider_id: str) -> TestRide:
    """Weigh a rider before and after two steady hours; breath and carbon leave him too."""
    rider = hidden_riders()[rider_id]
    rng = random.Random(f"weighed-ride-{rider_id}")
    plan = TestRide(mass_before_kg=rider.card.mass_kg, mass_after_kg=rider.card.mass_kg, fluid_drunk_l=1.0)
    beam_w_per_m2 = 0.75 * plan.solar_w_per_m2
    radiant_c = float(mean_radiant_temperature_c(
        plan.air_temperature_c, global_w_per_m2=plan.solar_w_per_m2, diffuse_w_per_m2=0.25 * plan.solar_w_per_m2,
        direct_normal_w_per_m2=beam_w_per_m2 / math.sin(math.radians(45.0)), elevation_deg=45.0,
    ))
    balance = heat_balance(
        plan.power_w, mass_kg=rider.card.mass_kg, height_m=rider.card.height_m,
        air_temperature_c=plan.air_temperature_c, relative_humidity_frac=plan.relative_humidity_frac,
        air_speed_m_per_s=plan.air_speed_m_per_s, radiant_temperature_c=radiant_c,
        gross_efficiency_frac=rider.gross_efficiency_frac, parameters=TRUE_CHAIN,
    )
    steady = np.full(24, float(balance.sweat_rate_l_per_h))
    sweat_l = _lagged_l(steady, np.full(24, plan.duration_h / 24))
    sweat_l *= math.exp(rider.log_factor + rng.gauss(0, DAY_LOG_SD))
    energy_kcal = float(balance.metabolic_power_w) * plan.duration_h * 3.6 / KJ_PER_KCAL
    before_kg = rider.card.mass_kg + rng.gauss(0, 0.3)
    after_kg = before_kg + plan.fluid_drunk_l - sweat_l - NOT_SWEAT_KG_PER_KCAL * energy_kcal
    return TestRide(
        mass_before_kg=before_kg + rng.gauss(0, SCALE_SD_KG / 2),
        mass_after_kg=after_kg + rng.gauss(0, SCALE_SD_KG / 2), fluid_drunk_l=plan.fluid_drunk_l,
    )
