"""After a stage: what a rider still owes, what to drink until bed, and what reaches the next start."""

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from brinebook.engine.plan.rehydration import EveningPlan, evening_drink, pre_stage_drink_l
from brinebook.planning.assemble import segments_of
from brinebook.planning.basis import basis_of
from brinebook.planning.books import digest
from brinebook.planning.explained import evening_drink_explained
from brinebook.planning.settlement import settlement_of
from brinebook.planning.standing import Race
from brinebook.records.derived import EveningDrink, Reason, Settlement
from brinebook.records.edited import Stage

BED_TIME = time(22, 30)
HOUR_MS = 3_600_000
PRE_STAGE_STEP_L = 0.05
HOURS_AFTER_THE_RACE = 24.0


@dataclass(frozen=True)
class Carried:
    """What an evening leaves to the next morning."""

    deficit_l: float
    drink_l: float
    key: str


def evening_record(race: Race, rider_id: str, place: int) -> EveningDrink | None:
    """State the evening after a settled stage; None while it is not settled or the scales are not believed."""
    settlement = settlement_of(race, rider_id, place)
    if settlement is None or settlement.state != "settled" or settlement.deficit_l is None:
        return None
    stage = race.books.stages[place]
    made, owed_mg, hours_h = _evening(race, rider_id, place, settlement)
    return EveningDrink(
        id=f"evening_drink:{rider_id}:{stage.id}",
        rider_id=rider_id,
        basis=basis_of(f"{settlement.id}#{_digest(settlement)}", *race.ride_keys(rider_id, place),
                       *(race.keyed[index].key for index in _next_race_day(race, place))),
        reasons=[
            Reason(code="deficit", quantity="deficit_l", after=settlement.deficit_l, evidence="weighed",
                   source="reconciliation"),
            Reason(code="sodium_owed", quantity="sodium_mg", after=owed_mg, evidence="weighed",
                   source="sodium_estimator"),
        ],
        explained=evening_drink_explained(made, deficit_l=settlement.deficit_l, owed_mg=owed_mg, hours_h=hours_h),
        stage_id=stage.id,
        deficit_l=settlement.deficit_l,
        sodium_owed_mg=owed_mg,
        drink_l=made.drink_l,
        drink_until_bed_l=made.drink_until_bed_l,
        sodium_mg=made.sodium_mg,
        max_rate_l_per_h=made.max_rate_l_per_h,
        hours_to_next_start_h=hours_h,
        carried_over_l=made.carried_over_l,
    )


def carried_into(race: Race, rider_id: str, place: int) -> Carried:
    """Return what the race day just before a stage left over; nothing when that day is not settled."""
    mass_kg = race.books.bodies[rider_id].mass_kg
    raced = [index for index in race.books.race_days if index < place]
    settlement = settlement_of(race, rider_id, raced[-1]) if raced else None
    if settlement is None or settlement.state != "settled" or settlement.deficit_l is None:
        return Carried(0.0, _pre_stage_l(0.0, mass_kg), "evening:none")
    made, _, _ = _evening(race, rider_id, raced[-1], settlement)
    return Carried(
        made.carried_over_l, _pre_stage_l(made.carried_over_l, mass_kg),
        f"{settlement.id}#{_digest(settlement)}",
    )


def _pre_stage_l(carried_l: float, mass_kg: float) -> float:
    """Step the drink before the start, for litres per kilogram to the millilitre would tell the mass on every plan."""
    return PRE_STAGE_STEP_L * round(pre_stage_drink_l(carried_l, mass_kg=mass_kg) / PRE_STAGE_STEP_L)


def _digest(settlement: Settlement) -> str:
    figures = (settlement.deficit_l, settlement.sodium_lost_mg, settlement.sodium_drunk_mg)
    return digest(repr(figures).encode())


def _evening(race: Race, rider_id: str, place: int, settlement: Settlement) -> tuple[EveningPlan, float, float]:
    stage, owed_mg = race.books.stages[place], max(0.0, (settlement.sodium_lost_mg or 0.0) - settlement.sodium_drunk_mg)
    finish_ms = stage.start_at_ms + HOUR_MS * float(segments_of(race.ride(rider_id, place)).elapsed_h[-1])
    hours_h = HOURS_AFTER_THE_RACE
    for index in _next_race_day(race, place):
        hours_h = max(0.0, (race.books.stages[index].start_at_ms - finish_ms) / HOUR_MS)
    made = evening_drink(
        settlement.deficit_l or 0.0, sodium_owed_mg=owed_mg, hours_to_start_h=hours_h,
        hours_to_bed_h=_hours_to_bed_h(stage, finish_ms),
    )
    return made, owed_mg, hours_h


def _next_race_day(race: Race, place: int) -> list[int]:
    return [index for index in race.books.race_days if index > place][:1]


def _hours_to_bed_h(stage: Stage, finish_ms: float) -> float:
    finish = datetime.fromtimestamp(finish_ms / 1000.0, tz=UTC).astimezone(ZoneInfo(stage.time_zone))
    bed = datetime.combine(finish.date(), BED_TIME, tzinfo=finish.tzinfo)
    return max(0.0, (bed - finish) / timedelta(hours=1))
