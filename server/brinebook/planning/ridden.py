"""A stage as it was ridden: from the records of a rider's own file to a fact, and from the fact to his road."""

from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from brinebook.engine.stage.ride import (
    RiddenAlong,
    RideRecords,
    finish_at_unix_s,
    ride_summary,
    ride_violations,
)
from brinebook.engine.stage.segments import SegmentTable, segment_ride
from brinebook.engine.validity import Violation
from brinebook.planning.assemble import Ride, chain_l, course_of, energy_kcal, model_sweat_l, segments_of, weather_of
from brinebook.planning.books import Books, Fact
from brinebook.records.derived import Flag
from brinebook.records.edited import Stage
from brinebook.records.facts import Ridden, RiddenStep

MS_PER_S = 1000.0
DIGITS = {"km": 4, "h": 6, "w": 1}


@dataclass(frozen=True)
class RecordedRide:
    """What a file holds, whatever its format was."""

    file_kind: str
    records: RideRecords
    device_work_kj: float | None


@dataclass(frozen=True)
class RiddenRide:
    """A rider's road together with the file he rode it with, so that its table can be kept."""

    ride: Ride
    key: str
    body: Ridden = field(compare=False)


def ridden_body(
    stage: Stage, rider_id: str, recorded: RecordedRide, *, from_ms: int | None = None, to_ms: int | None = None
) -> Ridden:
    """
    Cut a recording to the race and sum it up.

    The race begins at the rider's own start and ends when he had ridden the course, unless somebody says otherwise;
    what he rode before and after is left out. Raises ``UnphysicalInput`` when nothing of the file lies in between.
    """
    start_s = _start_s(stage, rider_id) if from_ms is None else from_ms / MS_PER_S
    length_km = stage.course[-1].distance_km - stage.km0_km if len(stage.course) > 1 else float("inf")
    end_s = finish_at_unix_s(recorded.records, from_unix_s=start_s, length_km=min(length_km, 400.0))
    summary = ride_summary(
        recorded.records, from_unix_s=start_s, to_unix_s=end_s if to_ms is None else to_ms / MS_PER_S,
        device_work_kj=recorded.device_work_kj,
    )
    columns = (summary.along.end_km, summary.along.elapsed_h, summary.along.power_w)
    return Ridden(
        started_at_ms=round(summary.start_at_unix_s * MS_PER_S),
        duration_h=round(summary.elapsed_h, DIGITS["h"]),
        length_km=round(summary.length_km, DIGITS["km"]),
        work_kj=round(summary.work_kj, DIGITS["w"]),
        mean_power_w=round(summary.mean_power_w, DIGITS["w"]),
        missing_power_frac=round(summary.missing_power_frac, DIGITS["km"]),
        paused_h=round(summary.paused_h, DIGITS["h"]),
        n_pauses=summary.n_pauses,
        work_ratio_frac=summary.work_ratio_frac,
        file_kind=recorded.file_kind,  # type: ignore[arg-type]
        along=[
            RiddenStep(round(km, DIGITS["km"]), round(hours, DIGITS["h"]),
                       round(power, DIGITS["w"]) if np.isfinite(power) else None)
            for km, hours, power in zip(*(column.tolist() for column in columns), strict=True)
        ],
    )


def _start_s(stage: Stage, rider_id: str) -> float:
    return stage.start_at_ms / MS_PER_S + stage.start_offset_s_by_rider.get(rider_id, 0.0)


def ridden_of(books: Books, rider_id: str, stage_id: str) -> Fact[Ridden] | None:
    """Return the last ride somebody read in for a rider's stage, or None."""
    return next(reversed(books.of_rider(rider_id, Ridden, stage_id=stage_id)), None)


@lru_cache(maxsize=256)
def segments_ridden(ridden: RiddenRide) -> SegmentTable:
    """Cut a stage into segments as it was ridden; kept, since settling and learning both ask for it."""
    stage, body = ridden.ride.keyed.stage, ridden.body
    return segment_ride(
        course_of(stage),
        stage_kind=stage.kind,
        race_role=ridden.ride.race_role,
        mass_kg=ridden.ride.mass_kg,
        start_at_unix_s=body.started_at_ms / MS_PER_S,
        along=RiddenAlong(
            end_km=np.array([step.end_km for step in body.along]),
            elapsed_h=np.array([step.elapsed_h for step in body.along]),
            power_w=np.array([np.nan if step.power_w is None else step.power_w for step in body.along]),
        ),
        weather=weather_of(stage),
        km0_m=1000.0 * stage.km0_km,
        break_km=tuple(feed.km for feed in stage.feed_points),
    )


def road_of(ride: Ride, fact: Fact[Ridden] | None) -> SegmentTable:
    """Return the road as ridden where there is a file of it, else as predicted."""
    if fact is None or not fact.body.length_km > 0.0:
        return segments_of(ride)
    return segments_ridden(RiddenRide(ride, fact.key, fact.body))


def road_sweat_l(ride: Ride, fact: Fact[Ridden] | None, *, height_m: float, gross_efficiency_frac: float) -> float:
    """Return the chain's own figure for the road as ridden, before any factor [L]."""
    if fact is None:
        return model_sweat_l(ride, height_m, gross_efficiency_frac)
    return chain_l(road_of(ride, fact), ride.mass_kg, height_m, gross_efficiency_frac)


def road_energy_kcal(ride: Ride, fact: Fact[Ridden] | None, *, gross_efficiency_frac: float) -> float:
    """Return what the riding cost [kcal], metered where there is a file, else predicted."""
    return energy_kcal(road_of(ride, fact), gross_efficiency_frac=gross_efficiency_frac)


def ridden_flags(ride: Ride, fact: Fact[Ridden] | None) -> list[Flag]:
    """Say what a ride's file leaves in doubt: missing power, other work than the device's, another distance."""
    if fact is None:
        return []
    said = ride_violations(
        missing_power_frac=fact.body.missing_power_frac, work_ratio_frac=fact.body.work_ratio_frac
    ) + tuple(one for one in road_of(ride, fact).violations if one.model == "ride")
    return file_flags(said)


def file_flags(said: tuple[Violation, ...]) -> list[Flag]:
    """Turn what is doubtful about a recording into flags."""
    return [
        Flag(code="ride_file", severity="caution", quantity=one.quantity, value=one.value,
             limit=one.high if one.value > one.high else one.low, detail=one.quantity)
        for one in said
    ]
