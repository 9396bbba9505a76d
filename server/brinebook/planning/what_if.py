"""What if the day is hotter, the race faster, the role another, a bottle missed: asked for, answered, never stored."""

from dataclasses import replace as dataclass_replace
from typing import Annotated

import msgspec
from msgspec import Meta, Struct
from msgspec.structs import replace

from brinebook.engine.constants.balance import SWEAT_POTASSIUM_DEFAULT_MMOL_PER_L
from brinebook.engine.plan.balance import plasma_sodium_mmol_per_l, watson_tbw_l
from brinebook.engine.units import sodium_mmol
from brinebook.planning.assemble import segments_of
from brinebook.planning.books import Books, is_raced, open_books
from brinebook.planning.lane import dry_limit_l, kerbs_l
from brinebook.planning.standing import Race
from brinebook.records.common import RaceRole
from brinebook.records.derived import StagePlan
from brinebook.records.edited import Stage
from brinebook.storage.errors import NotFound
from brinebook.storage.repository import Eyes, Repository

AIR_SPAN_C = (-30.0, 55.0)
LONGEST_H = 10.0


class Question(Struct, frozen=True, kw_only=True):
    """One rider's stage, and what is to be different: degrees on the forecast, a share on the speed, bottles missed."""

    rider_id: str
    heat_c: Annotated[float, Meta(ge=-15.0, le=15.0)] = 0.0
    pace_frac: Annotated[float, Meta(ge=0.7, le=1.3)] = 1.0
    missed_n: Annotated[int, Meta(ge=0, le=20)] = 0
    race_role: RaceRole | None = None


class Answer(Struct, frozen=True, kw_only=True):
    """The end of the stage then; litres lost, drunk and owed, blood sodium at the two ends of the loss."""

    duration_h: float
    air_temperature_max_c: float
    sweat_quantiles_l: list[float]
    sweat_q10_l: float
    sweat_q50_l: float
    sweat_q90_l: float
    intake_l: float
    lane_low_l: float
    lane_high_l: float
    deficit_low_frac: float
    deficit_high_frac: float
    plasma_low_mmol_per_l: float | None
    plasma_high_mmol_per_l: float | None


def what_if(repository: Repository, eyes: Eyes, stage_id: str, asked: Question) -> Answer:
    """Forecast one rider's stage as if it were otherwise, with the plan he has, from what the asker may see."""
    books = open_books(repository, eyes.team_id, eyes)
    if stage_id not in books.index_of_stage or not is_raced(books.stages[books.index_of_stage[stage_id]]):
        raise NotFound("stage", stage_id)
    if asked.rider_id not in books.bodies or asked.rider_id not in books.riders:
        raise NotFound("rider", asked.rider_id)
    place = books.index_of_stage[stage_id]
    race = Race(_otherwise(books, place, asked))
    plan = _plan_of(books, asked.rider_id, stage_id)
    return _answer(race, place, asked, plan)


def _otherwise(books: Books, place: int, asked: Question) -> Books:
    stage = books.stages[place]
    base_h = float(segments_of(Race(books).ride(asked.rider_id, place)).elapsed_h[-1])
    stages = list(books.stages)
    stages[place] = replace(_hotter(stage, asked.heat_c), **_ridden(stage, base_h, asked))
    return dataclass_replace(books, stages=tuple(stages))


def _hotter(stage: Stage, heat_c: float) -> Stage:
    low, high = AIR_SPAN_C
    warmed = ((row, min(high, max(low, row.air_temperature_c + heat_c))) for row in stage.forecast)
    return replace(stage, forecast=[replace(row, air_temperature_c=air_c) for row, air_c in warmed])


def _ridden(stage: Stage, base_h: float, asked: Question) -> dict[str, object]:
    """Change duration and role only where something else was asked: an untouched question gives the plan's own day."""
    changed: dict[str, object] = {}
    if asked.pace_frac != 1.0:
        changed["scheduled_duration_h"] = min(LONGEST_H, base_h / asked.pace_frac)
    if asked.race_role is not None:
        changed["race_role_by_rider"] = {**stage.race_role_by_rider, asked.rider_id: asked.race_role}
    return changed


def _plan_of(books: Books, rider_id: str, stage_id: str) -> StagePlan | None:
    found = books.stored.get(f"stage_plan:{rider_id}:{stage_id}")
    return None if found is None or found.body is None else msgspec.json.decode(found.body, type=StagePlan)


def _kept_frac(plan: StagePlan | None, missed_n: int) -> float:
    """Return the share of the plan's drink that is left when some of its bottles never reach the rider."""
    n = 0 if plan is None else sum(sum(step.bottles.values()) for step in plan.steps)
    return 1.0 if n == 0 else max(0.0, 1.0 - missed_n / n)


def _answer(race: Race, place: int, asked: Question, plan: StagePlan | None) -> Answer:
    body, forecast = race.books.bodies[asked.rider_id], race.forecast(asked.rider_id, place)
    segments = segments_of(race.ride(asked.rider_id, place))
    q10_l, q50_l, q90_l = (float(value) for value in forecast.cumulative_quantiles_l[:, -1])
    kept_frac = _kept_frac(plan, asked.missed_n)
    intake_l = 0.0 if plan is None else plan.water_l * kept_frac
    warmest_c = float(segments.air_temperature_c.max())
    low_l, high_l = kerbs_l((q10_l, q50_l), limit_l=dry_limit_l(body.mass_kg, air_temperature_max_c=warmest_c))
    plasma = None if plan is None else tuple(
        _plasma_mmol_per_l(race, place, asked.rider_id, (intake_l, plan.sodium_mg * kept_frac), lost_l)
        for lost_l in (q10_l, q90_l)
    )
    return Answer(
        duration_h=float(segments.elapsed_h[-1]), air_temperature_max_c=warmest_c,
        sweat_quantiles_l=[float(value) for value in forecast.twenty_l],
        sweat_q10_l=q10_l, sweat_q50_l=q50_l, sweat_q90_l=q90_l, intake_l=intake_l,
        lane_low_l=low_l, lane_high_l=high_l,
        deficit_low_frac=(q10_l - intake_l) / body.mass_kg, deficit_high_frac=(q90_l - intake_l) / body.mass_kg,
        plasma_low_mmol_per_l=None if plasma is None else min(plasma),
        plasma_high_mmol_per_l=None if plasma is None else max(plasma),
    )


def _plasma_mmol_per_l(race: Race, place: int, rider_id: str, taken: tuple[float, float], lost_l: float) -> float:
    """Return blood sodium at the end, for litres and milligrams taken and litres of sweat lost."""
    body, sodium = race.books.bodies[rider_id], race.standing(rider_id, place).sodium.estimate
    tbw_l = watson_tbw_l(body.mass_kg, height_m=body.height_m, age_years=float(body.age_years), sex=body.sex)
    water_l, sodium_mg = taken
    lost_mmol = (sodium.mean_mmol_per_l + SWEAT_POTASSIUM_DEFAULT_MMOL_PER_L) * lost_l
    return float(plasma_sodium_mmol_per_l(
        tbw_l, water_gain_l=water_l - lost_l, cation_gain_mmol=float(sodium_mmol(sodium_mg)) - lost_mmol,
    ))
