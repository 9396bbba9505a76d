"""After a stage: what a rider still owes, what to drink until bed, and what reaches the next start."""

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import msgspec

from brinebook.engine.constants.balance import NO_DRINK_BEFORE_BED_H, OBLIGATORY_LOSS_L_PER_H
from brinebook.engine.plan.rehydration import EveningPlan, evening_drink, pre_stage_drink_l
from brinebook.planning.assemble import segments_of
from brinebook.planning.basis import basis_of
from brinebook.planning.books import digest
from brinebook.planning.explained import evening_drink_explained
from brinebook.planning.guarded import guard_flags, guards_of, is_stopped
from brinebook.planning.settlement import settlement_of
from brinebook.planning.standing import Race
from brinebook.planning.warnings import PHYSICIAN
from brinebook.records.derived import EveningDrink, Flag, Reason, Settlement
from brinebook.records.edited import Stage
from brinebook.records.plan_parts import RestDay

BED_TIME = time(22, 30)
HOUR_MS = 3_600_000
PRE_STAGE_STEP_L = 0.05
HOURS_AFTER_THE_RACE = 24.0
MOST_OF_OWED = 1.25
"""With a whole day to drink it, meals and thirst do the rest: the upper ratio of the slow recovery."""


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
    stage, body, guards = race.books.stages[place], race.books.bodies[rider_id], _guards(race, rider_id, place)
    made, owed_mg, hours_h = _evening(race, rider_id, place, settlement)
    evening = EveningDrink(
        id=f"evening_drink:{rider_id}:{stage.id}",
        rider_id=rider_id,
        basis=basis_of(f"{settlement.id}#{_digest(settlement)}", *race.ride_keys(rider_id, place), *guards,
                       f"body:{rider_id}@{body.version}",
                       *(race.keyed[index].key for index in (*_next_race_day(race, place), *_rest_days(race, place)))),
        flags=[*guard_flags(body, guards), *_cautions(settlement, made)],
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
        drink_l=0.0, drink_until_bed_l=0.0, sodium_mg=0.0, carried_over_l=made.carried_over_l,
        max_rate_l_per_h=made.max_rate_l_per_h,
        hours_to_next_start_h=hours_h,
    )
    is_held = is_stopped(body, guards) or _is_above_losses(settlement)
    return evening if is_held else _with_drinks(race, rider_id, place, evening, made)


def _with_drinks(race: Race, rider_id: str, place: int, evening: EveningDrink, made: EveningPlan) -> EveningDrink:
    """Part drink and sodium into evening, breakfast and a rest day between."""
    finish_ms = _finish_ms(race, rider_id, place)
    bed_h = _hours_to_bed_h(race.books.stages[place], finish_ms)
    share = made.drink_until_bed_l / made.drink_l if made.drink_l > 0.0 else 1.0
    rest = _rest_days(race, place)
    later_mg = made.sodium_mg * (1.0 - share)
    return msgspec.structs.replace(
        evening,
        drink_l=made.drink_l, drink_until_bed_l=made.drink_until_bed_l, sodium_mg=made.sodium_mg,
        sodium_until_bed_mg=made.sodium_mg - later_mg,
        sodium_breakfast_mg=0.0 if rest else later_mg,
        breakfast_drink_l=0.0 if rest else _pre_stage_l(made.carried_over_l, race.books.bodies[rider_id].mass_kg),
        drink_sodium_mg_per_l=made.drink_sodium_mg_per_l,
        last_drink_at_ms=int(finish_ms + HOUR_MS * max(0.0, bed_h - NO_DRINK_BEFORE_BED_H)),
        rest_day=None if not rest else RestDay(
            stage_id=race.books.stages[rest[0]].id, drink_l=MOST_OF_OWED * made.carried_over_l,
            usual_l=OBLIGATORY_LOSS_L_PER_H * HOURS_AFTER_THE_RACE, sodium_mg=later_mg,
        ),
    )


def _guards(race: Race, rider_id: str, place: int) -> tuple[str, ...]:
    """Take what holds the evening back: signs of the stage itself, or of the day before the next."""
    places = (place, *_next_race_day(race, place))
    return tuple(sorted({guard for index in places for guard in guards_of(race.books, rider_id, index)}))


def _is_above_losses(settlement: Settlement) -> bool:
    return any(flag.code == "drank_above_losses" for flag in settlement.flags)


def _cautions(settlement: Settlement, made: EveningPlan) -> list[Flag]:
    """Give every evening its caution: what is owed is an offer, and more than that can harm."""
    if _is_above_losses(settlement):
        return [Flag(code="evening_watch", severity="medical", detail=PHYSICIAN)]
    if (settlement.deficit_l or 0.0) <= 0.0:
        return [Flag(code="evening_nothing_owed", severity="caution")]
    flags = [Flag(code="evening_not_forced", severity="note")]
    if made.drink_until_bed_l < made.drink_l - PRE_STAGE_STEP_L:
        flags.append(Flag(code="evening_capped", severity="note", quantity="drink_l",
                          value=made.drink_l - made.drink_until_bed_l))
    return flags


def carried_into(race: Race, rider_id: str, place: int) -> Carried:
    """Return what the race day just before a stage left over; nothing when it is not settled or a rest day follows."""
    mass_kg = race.books.bodies[rider_id].mass_kg
    raced = [index for index in race.books.race_days if index < place]
    settlement = settlement_of(race, rider_id, raced[-1]) if raced else None
    is_rested = bool(raced) and any(index < place for index in _rest_days(race, raced[-1]))
    if is_rested or settlement is None or settlement.state != "settled" or settlement.deficit_l is None:
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
    finish_ms = _finish_ms(race, rider_id, place)
    hours_h = HOURS_AFTER_THE_RACE
    for index in _next_race_day(race, place):
        hours_h = max(0.0, (race.books.stages[index].start_at_ms - finish_ms) / HOUR_MS)
    made = evening_drink(
        settlement.deficit_l or 0.0, sodium_owed_mg=owed_mg, hours_to_start_h=hours_h,
        hours_to_bed_h=_hours_to_bed_h(stage, finish_ms),
    )
    return made, owed_mg, hours_h


def _finish_ms(race: Race, rider_id: str, place: int) -> float:
    hours_h = float(segments_of(race.ride(rider_id, place)).elapsed_h[-1])
    return race.books.stages[place].start_at_ms + HOUR_MS * hours_h


def _rest_days(race: Race, place: int) -> list[int]:
    """Return the rest days between a stage and the next one raced."""
    until = next(iter(_next_race_day(race, place)), len(race.books.stages))
    return [index for index in range(place + 1, until) if race.books.stages[index].kind == "rest"]


def _next_race_day(race: Race, place: int) -> list[int]:
    return [index for index in race.books.race_days if index > place][:1]


def _hours_to_bed_h(stage: Stage, finish_ms: float) -> float:
    finish = datetime.fromtimestamp(finish_ms / 1000.0, tz=UTC).astimezone(ZoneInfo(stage.time_zone))
    bed = datetime.combine(finish.date(), BED_TIME, tzinfo=finish.tzinfo)
    return max(0.0, (bed - finish) / timedelta(hours=1))
