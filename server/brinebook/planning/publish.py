"""Engine to records: profiles and forecasts as they are stored, and any record as a document."""

from dataclasses import replace
from functools import lru_cache
from math import exp

import msgspec
import numpy as np

from brinebook.engine.loss.wbgt import wbgt_liljegren2008_c
from brinebook.engine.settle.stage_noise import DEFAULT_STAGE_LOG_SD
from brinebook.engine.stage.air import standard_pressure_pa
from brinebook.engine.stage.segments import SegmentTable
from brinebook.engine.units import FloatArray
from brinebook.engine.validity import Violation
from brinebook.planning.assemble import Ride, efficiency_frac, energy_kcal, segments_of
from brinebook.planning.basis import basis_of
from brinebook.planning.books import record_key
from brinebook.planning.explained import forecast_explained, profile_explained
from brinebook.planning.guarded import is_locked
from brinebook.planning.history import MIN_RIDE_H
from brinebook.planning.morning import morning_of
from brinebook.planning.pocket import pocket_of
from brinebook.planning.race_rules import feed_flags, heat_flags
from brinebook.planning.standing import Race, Standing
from brinebook.planning.strength import drinks_as_mixed
from brinebook.records.derived import (
    Basis,
    Derived,
    Flag,
    ForecastAudit,
    ProfilePoint,
    Reason,
    RiderProfile,
    StageForecast,
)
from brinebook.records.facts import WeighedRide
from brinebook.storage.repository import NewDocument

MAX_POINTS = 48
ROADSIDE_KG = 70.0
FAR_FROM_ONE_LOG = 0.5
CAP_CAUTION_FRAC = 0.15
"""Share of the stage at the cap from which its loss is a lower bound rather than a figure with a footnote."""


def document(kind: str, record: Derived | ForecastAudit, *, subject_id: str) -> NewDocument:
    """Wrap a derived record for the store."""
    return NewDocument(id=record.id, type=kind, subject_id=subject_id, body=msgspec.json.encode(record))


def profile_record(race: Race, rider_id: str, place: int) -> RiderProfile:
    """State a rider's factor and sodium as known before the stage at ``place``."""
    standing = race.standing(rider_id, place)
    learnt, known = standing.learnt, standing.sodium
    estimate = known.estimate
    mixed, foods = drinks_as_mixed(race.books), race.books.foods
    morning = morning_of(race.books, rider_id, before_ms=race.instant_ms(place))
    return RiderProfile(
        id=f"profile:{rider_id}",
        rider_id=rider_id,
        basis=basis_of(
            standing.key, *learnt.keys, *morning.keys, *known.keys,
            *(key for drink in mixed.values() for key in drink.keys),
            *(record_key("food", food) for food in foods.values()),
        ),
        flags=[*morning.flags, *known.flags, *_factor_flags(standing), *_short_rides(race, rider_id, place)],
        reasons=[
            Reason(code="sweat_factor", quantity="sweat_factor", after=exp(learnt.offset_log + learnt.state.log_mean),
                   evidence="weighed" if learnt.n_used else "default", source="reconciliation"),
            Reason(code="sodium", quantity="sodium_mmol_per_l", after=estimate.mean_mmol_per_l,
                   evidence="weighed" if known.n_tests else "default", source="sodium_estimator"),
        ],
        explained=profile_explained(standing),
        sweat_factor_median=exp(learnt.offset_log + learnt.state.log_mean),
        sweat_factor_log_sd=learnt.state.log_sd,
        team_offset_log=learnt.offset_log,
        n_weighed=learnt.n_used,
        sodium_mean_mmol_per_l=estimate.mean_mmol_per_l,
        sodium_sd_mmol_per_l=estimate.sd_mmol_per_l,
        sodium_low_mmol_per_l=estimate.low_mmol_per_l,
        sodium_high_mmol_per_l=estimate.high_mmol_per_l,
        sodium_median_forearm_mmol_per_l=estimate.forearm_median_mmol_per_l,
        n_sodium_tests=known.n_tests,
        sodium_evidence="weighed" if known.n_tests else "default",
        factor_evidence="weighed" if learnt.n_used else "default",
        morning_line_kg=None if morning.baseline is None else morning.baseline.rolling_kg,
        morning_change_frac=morning.change_frac,
        morning_change_since_start_frac=morning.change_since_start_frac,
        pocket_rule=None if is_locked(standing.body) else pocket_of(estimate, mixed=mixed, foods=foods),
    )


def _short_rides(race: Race, rider_id: str, place: int) -> list[Flag]:
    """Refuse out loud: minutes on a scale give no sweat rate, however hard they were."""
    rides = race.books.of_rider(rider_id, WeighedRide)
    return [
        Flag(code="ride_too_short", severity="caution", quantity="duration_h", value=ride.body.duration_h,
             limit=MIN_RIDE_H)
        for ride in rides if ride.body.duration_h < MIN_RIDE_H and ride.event.at_ms < race.instant_ms(place)
    ]


def _factor_flags(standing: Standing) -> list[Flag]:
    learnt = standing.learnt
    factor_log = learnt.offset_log + learnt.state.log_mean
    flags = [
        Flag(code="suspect_log", severity="caution", quantity="sweat_factor", detail=key.split("#")[0])
        for key in learnt.rejected
    ]
    if not learnt.n_used:
        flags.append(Flag(code="default_factor", severity="note", quantity="sweat_factor"))
    if abs(factor_log) > FAR_FROM_ONE_LOG:
        flags.append(Flag(code="out_of_range", severity="caution", quantity="sweat_factor", value=exp(factor_log),
                          limit=exp(FAR_FROM_ONE_LOG)))
    return flags


def forecast_record(race: Race, rider_id: str, place: int) -> StageForecast:
    """State what a rider is expected to lose on a stage, from what is known before it."""
    stage, standing = race.books.stages[place], race.standing(rider_id, place)
    segments, forecast = segments_of(race.ride(rider_id, place)), race.forecast(rider_id, place)
    q10_l, q50_l, q90_l = (float(value) for value in forecast.cumulative_quantiles_l[:, -1])
    wbgt_c = roadside_wbgt_c(race.ride(rider_id, place))
    return StageForecast(
        id=f"stage_forecast:{rider_id}:{stage.id}",
        rider_id=rider_id,
        basis=forecast_basis(race, rider_id, place),
        flags=[
            *cap_flags(forecast.share_at_cap_frac), *range_flags(segments.violations + forecast.violations),
            *heat_flags(stage, wbgt_c), *feed_flags(stage),
            *(flag for flag in standing.sodium.flags if flag.code == "default_sodium"),
            *(flag for flag in _factor_flags(standing) if flag.code == "default_factor"),
        ],
        reasons=_forecast_reasons(standing),
        explained=forecast_explained(standing, segments, forecast),
        stage_id=stage.id,
        stage_number=stage.number,
        stage_kind=stage.kind,
        duration_h=float(segments.elapsed_h[-1]),
        mean_power_w=float(segments.power_w @ segments.duration_h / segments.duration_h.sum()),
        energy_kcal=energy_kcal(segments, gross_efficiency_frac=efficiency_frac(standing.body)),
        sweat_quantiles_l=[float(value) for value in forecast.twenty_l],
        sweat_q10_l=q10_l,
        sweat_q50_l=q50_l,
        sweat_q90_l=q90_l,
        model_sweat_l=float(forecast.model_cumulative_l[-1]),
        sodium_q10_mg=forecast.sodium_q10_mg,
        sodium_q50_mg=forecast.sodium_q50_mg,
        sodium_q90_mg=forecast.sodium_q90_mg,
        respiratory_l=forecast.respiratory_l,
        max_wettedness_frac=forecast.max_wettedness_frac,
        share_at_cap_frac=forecast.share_at_cap_frac,
        wbgt_max_c=wbgt_c,
        air_temperature_max_c=float(segments.air_temperature_c.max()),
        along=_along(segments, forecast.cumulative_quantiles_l),
    )


def roadside_wbgt_c(ride: Ride) -> float:
    """Return the highest wet-bulb globe temperature at the roadside of a stage [C]; it enters no sweat."""
    return _wbgt_max_c(replace(ride, race_role="domestique", mass_kg=ROADSIDE_KG))


@lru_cache(maxsize=256)
def _wbgt_max_c(ride: Ride) -> float:
    """Everybody passes the same roadside, so one rider of each start stands for all."""
    segments = segments_of(ride)
    beam = segments.solar_w_per_m2 - segments.diffuse_w_per_m2
    return float(wbgt_liljegren2008_c(
        segments.air_temperature_c,
        relative_humidity_frac=segments.relative_humidity_frac,
        wind_m_per_s=segments.wind_m_per_s,
        pressure_pa=standard_pressure_pa(segments.elevation_m),
        solar_w_per_m2=segments.solar_w_per_m2,
        direct_frac=np.clip(beam / np.maximum(segments.solar_w_per_m2, 1.0), 0.0, 1.0),
        sun_elevation_deg=segments.sun_elevation_deg,
    ).max())


def forecast_basis(race: Race, rider_id: str, place: int) -> Basis:
    """Name what a forecast rests on, without making it."""
    return basis_of(*race.ride_keys(rider_id, place), race.standing(rider_id, place).key)


def _forecast_reasons(standing: Standing) -> list[Reason]:
    learnt, known = standing.learnt, standing.sodium
    return [
        Reason(code="sweat_factor", quantity="sweat_factor", after=exp(learnt.offset_log + learnt.state.log_mean),
               evidence="weighed" if learnt.n_used else "default", source="sweat_chain"),
        Reason(code="sodium", quantity="sodium_mmol_per_l", after=known.estimate.mean_mmol_per_l,
               evidence="weighed" if known.n_tests else "default", source="sodium_estimator"),
        Reason(code="stage_spread", quantity="stage_spread_factor",
               after=exp(standing.stage_log_sd or DEFAULT_STAGE_LOG_SD),
               evidence="weighed" if standing.stage_log_sd else "default", source="sweat_chain"),
        Reason(code="body_mass", evidence="weighed"),
        Reason(code="efficiency", quantity="gross_efficiency_frac", after=efficiency_frac(standing.body),
               evidence="weighed" if standing.body.gross_efficiency_frac else "default"),
    ]


def cap_flags(share_frac: float) -> list[Flag]:
    """Say that part of the stage asks for more sweat than the model lets a body give."""
    if share_frac <= 0.0:
        return []
    is_much = share_frac >= CAP_CAUTION_FRAC
    return [Flag(code="at_cap", severity="caution" if is_much else "note", quantity="share_at_cap_frac",
                 value=share_frac, limit=CAP_CAUTION_FRAC if is_much else 0.0)]


def range_flags(violations: tuple[Violation, ...]) -> list[Flag]:
    """Say which quantity left the range of which model."""
    return [
        Flag(code="out_of_range", severity="note", quantity=violation.quantity, value=violation.value,
             limit=violation.high if violation.value > violation.high else violation.low, detail=violation.model)
        for violation in violations
    ]


def _along(segments: SegmentTable, quantiles_l: FloatArray) -> list[ProfilePoint]:
    """Thin the road to what a small screen can draw; the end is always kept."""
    n = segments.end_km.size
    places = np.unique(np.linspace(0, n - 1, min(n, MAX_POINTS)).round().astype(int))
    start = ProfilePoint(float(segments.start_km[0]), float(segments.elevation_m[0]), 0.0, 0.0, 0.0, 0.0,
                         float(segments.air_temperature_c[0]))
    return [start, *(
        ProfilePoint(
            float(segments.end_km[index]), float(segments.elevation_m[index]), float(segments.elapsed_h[index]),
            float(quantiles_l[0, index]), float(quantiles_l[1, index]), float(quantiles_l[2, index]),
            float(segments.air_temperature_c[index]),
        )
        for index in places
    )]
