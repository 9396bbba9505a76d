"""Which bottle, where: one rider's forecast, the drinks as mixed and the limits to a plan with its reasons."""

from dataclasses import dataclass
from typing import Literal

import msgspec
import numpy as np

from brinebook.engine.plan.balance import PlanTargets, targets, watson_tbw_l
from brinebook.engine.plan.bottles import BottlePlan, BottlePlanInput, plan_bottles
from brinebook.engine.stage.segments import SegmentTable
from brinebook.planning.assemble import segments_of
from brinebook.planning.basis import basis_of
from brinebook.planning.evening import Carried, carried_into
from brinebook.planning.explained import stage_plan_explained
from brinebook.planning.feeds import feeds_of, hands_of, odds_of
from brinebook.planning.goals import weights_of
from brinebook.planning.guarded import guard_flags, guards_of, is_stopped, limits_of
from brinebook.planning.heat import heat_codes
from brinebook.planning.lane import COOL_BELOW_C, dry_limit_l, kerbs_l, size_kg
from brinebook.planning.morning import is_dry_morning
from brinebook.planning.offer import Table, drink_option, food_option, table_of
from brinebook.planning.plan_reasons import changes, plan_reasons
from brinebook.planning.publish import range_flags
from brinebook.planning.standing import Race, Standing
from brinebook.planning.warnings import PHYSICIAN
from brinebook.records.common import StageKind
from brinebook.records.derived import Basis, Flag, StagePlan
from brinebook.records.edited import FeedPoint, Stage
from brinebook.records.plan_parts import FreedBy, PlanPoint, PlanStep

CARBOHYDRATE_G_PER_H: dict[StageKind, float] = {
    "flat": 75.0, "hilly": 85.0, "mountain": 90.0, "time_trial": 60.0, "mountain_time_trial": 60.0, "rest": 0.0,
}
PLASMA_FLOOR_QUANTITY = "plasma_low_mmol_per_l"
PLASMA_CEILING_QUANTITY = "plasma_high_mmol_per_l"
DRY_MORNING_FRAC = 0.01
"""Of body mass: what two morning signs of too little water count for at least."""
LEAST_PART = 0.05
"""A smaller part of a unit or a litre is not worth telling."""


@dataclass(frozen=True)
class Setting:
    """Everything about one rider and stage that a plan is made from."""

    stage: Stage
    standing: Standing
    segments: SegmentTable
    feeds: tuple[FeedPoint, ...]
    table: Table
    carried: Carried
    guards: tuple[str, ...]
    aim: PlanTargets
    is_dry_morning: bool

    @property
    def finish_km(self) -> float:
        """Return the length of the stage."""
        return float(self.segments.end_km[-1])


def plan_basis(race: Race, rider_id: str, place: int) -> Basis:
    """Name what a plan rests on, without making it."""
    return basis_of(
        *race.ride_keys(rider_id, place), *race.plan_keys(rider_id, place), race.standing(rider_id, place).key,
        carried_into(race, rider_id, place).key, *table_of(race.books, rider_id, place).keys,
        *guards_of(race.books, rider_id, place), *_morning_keys(race, rider_id, place),
        race.before(rider_id, place).key,
    )


def _morning_keys(race: Race, rider_id: str, place: int) -> tuple[str, ...]:
    """Say that a morning counted, not which check it was."""
    return ("morning:dry",) if is_dry_morning(race.books, rider_id, before_ms=race.instant_ms(place)) else ()


def plan_record(
    race: Race, rider_id: str, place: int, *, status: Literal["draft", "published"], plan_version: int
) -> StagePlan:
    """Plan one rider's stage; without a physician's release the plan is empty and says so."""
    setting, forecast = setting_of(race, rider_id, place), race.forecast(rider_id, place)
    stage, standing, table = setting.stage, setting.standing, setting.table
    warmest_c = float(setting.segments.air_temperature_c.max())
    q10_l, q50_l = (float(value) for value in forecast.cumulative_quantiles_l[:2, -1])
    low_l, high_l = kerbs_l((q10_l, q50_l), limit_l=dry_limit_l(standing.body.mass_kg, air_temperature_max_c=warmest_c))
    of_size_l = dry_limit_l(size_kg(standing.body.mass_kg), air_temperature_max_c=warmest_c)
    made = _made(race, setting)
    plan = StagePlan(
        id=f"stage_plan:{rider_id}:{stage.id}",
        rider_id=rider_id,
        basis=plan_basis(race, rider_id, place),
        flags=[
            *guard_flags(standing.body, setting.guards), *([] if made is None else _plan_flags(made)),
            *(flag for drink in table.drinks for flag in drink.flags),
            *_strong_flags(setting, made),
            *([] if forecast.share_at_cap_frac <= 0.0 else [
                Flag(code="at_cap", severity="caution", quantity="share_at_cap_frac", value=forecast.share_at_cap_frac)
            ]),
        ],
        reasons=plan_reasons(standing, q50_l=q50_l, aim=setting.aim, table_evidence=_evidence_of(table)),
        explained=[] if made is None else stage_plan_explained(
            standing, sweat_q10_l=q10_l, sweat_q50_l=q50_l, aim=setting.aim,
            plasma_low=float(made.plasma_low_mmol_per_l.min()), deficit=float(made.deficit_frac[-1]),
        ),
        stage_id=stage.id,
        stage_number=stage.number,
        status=status,
        plan_version=plan_version,
        supersedes=plan_version - 1 if plan_version > 1 else None,
        water_l=0.0, sodium_mg=0.0, carbohydrate_g=0.0, steps=[], along=[], binding_limits=[],
        target_water_l=setting.aim.water_l,
        target_sodium_mg=setting.aim.sodium_mg,
        lane_low_l=low_l,
        lane_high_l=high_l,
        size_low_l=kerbs_l((q10_l, q50_l), limit_l=of_size_l)[0],
        pre_stage_drink_l=0.0 if is_stopped(standing.body, setting.guards) else setting.carried.drink_l,
        heat=heat_codes(setting.segments),
        changed=changes(race, rider_id, place),
    )
    return plan if made is None else _filled(plan, made, setting)


def _filled(plan: StagePlan, made: BottlePlan, setting: Setting) -> StagePlan:
    """Put what was found into the record."""
    return msgspec.structs.replace(
        plan,
        water_l=float(made.cumulative_water_l[-1]), sodium_mg=float(made.cumulative_sodium_mg[-1]),
        carbohydrate_g=float(made.cumulative_carbohydrate_g[-1]), steps=_steps(made, setting),
        along=_points(made, setting), binding_limits=list(made.binding), freed_by=_freed(made, setting),
        penalty_u=made.penalty_u, bound_u=made.bound_u if np.isfinite(made.bound_u) else 0.0,
    )


def setting_of(race: Race, rider_id: str, place: int) -> Setting:
    """Gather everything about one rider and stage."""
    stage, standing = race.books.stages[place], race.standing(rider_id, place)
    segments, forecast = segments_of(race.ride(rider_id, place)), race.forecast(rider_id, place)
    aim = targets(
        float(forecast.cumulative_quantiles_l[1, -1]), mass_kg=standing.body.mass_kg,
        sodium_mmol_per_l=standing.sodium.estimate.mean_mmol_per_l,
    )
    return Setting(
        stage, standing, segments, feeds_of(stage, float(segments.end_km[-1])), table_of(race.books, rider_id, place),
        carried_into(race, rider_id, place), guards_of(race.books, rider_id, place), aim,
        is_dry_morning(race.books, rider_id, before_ms=race.instant_ms(place)),
    )


def _evidence_of(table: Table) -> bool:
    return any(len(drink.keys) > 1 for drink in table.drinks)


def _made(race: Race, setting: Setting) -> BottlePlan | None:
    standing = setting.standing
    if is_stopped(standing.body, setting.guards) or not setting.table.drinks:
        return None
    return plan_bottles(plan_input(race, setting))


def plan_input(race: Race, setting: Setting) -> BottlePlanInput:
    """Tell the solver one rider and stage."""
    standing, segments, table, feeds = setting.standing, setting.segments, setting.table, setting.feeds
    body, sodium = race.books.bodies[standing.rider_id], standing.sodium.estimate
    forecast = race.forecast(standing.rider_id, standing.place)
    road_km = np.concatenate([[0.0], segments.end_km])
    road_h = np.concatenate([[0.0], segments.elapsed_h])
    kilometres = np.array([0.0, *(feed.km for feed in feeds[1:]), setting.finish_km])
    road_l = [np.concatenate([[0.0], row]) for row in forecast.cumulative_quantiles_l]
    quantiles = [np.interp(kilometres, road_km, row) for row in road_l]
    opened = setting.stage.opened_drinks_by_rider.get(standing.rider_id, [])
    return BottlePlanInput(
        times_h=np.interp(kilometres, road_km, road_h),
        sweat_q10_l=quantiles[0], sweat_q50_l=quantiles[1], sweat_q90_l=quantiles[2],
        road_h=road_h, road_q10_l=road_l[0],
        tbw_l=watson_tbw_l(body.mass_kg, height_m=body.height_m, age_years=float(body.age_years), sex=body.sex),
        mass_kg=body.mass_kg,
        start_deficit_l=_owed_l(setting),
        sodium_mmol_per_l=sodium.mean_mmol_per_l,
        sodium_high_mmol_per_l=max(sodium.high_mmol_per_l, sodium.mean_mmol_per_l),
        drinks=tuple(drink_option(table, drink) for drink in table.drinks),
        foods=tuple(food_option(table, food) for food in table.foods),
        max_bottles_per_feed=hands_of(setting.stage, segments, len(feeds)),
        hand_up_odds_frac=odds_of(feeds, segments),
        target_water_l=setting.aim.water_l, target_sodium_mg=setting.aim.sodium_mg,
        carbohydrate_target_g_per_h=CARBOHYDRATE_G_PER_H[setting.stage.kind],
        is_cool=float(segments.air_temperature_c.max()) < COOL_BELOW_C,
        is_sodium_needed=setting.aim.needed_sodium_share_frac > 0.0,
        weights=weights_of(race.books.goals),
        limits=limits_of(body, setting.guards, opened=tuple(
            (mixed.sodium_mg_per_l, mixed.drink.carbohydrate_g_per_l)
            for mixed in table.drinks if mixed.drink.id in opened
        )),
    )


def _owed_l(setting: Setting) -> float:
    """Return what is still owed at the start once the drink before it is down; a dry morning counts for something."""
    owed_l = setting.carried.deficit_l
    if setting.is_dry_morning:
        owed_l = max(owed_l, DRY_MORNING_FRAC * setting.standing.body.mass_kg)
    return max(0.0, owed_l - setting.carried.drink_l)


def _strong_flags(setting: Setting, made: BottlePlan | None) -> list[Flag]:
    """Say of every strong drink in the plan that it goes with water only."""
    if made is None:
        return []
    limits = (1500.0, 80.0)
    return [
        Flag(code="only_with_water", severity="caution", quantity="drink_sodium_mg_per_l",
             value=mixed.sodium_mg_per_l, limit=limits[0], detail=mixed.drink.id)
        for b, mixed in enumerate(setting.table.drinks)
        if made.bottles[:, b].any()
        and (mixed.sodium_mg_per_l > limits[0] or mixed.drink.carbohydrate_g_per_l > limits[1])
    ]


def _plan_flags(made: BottlePlan) -> list[Flag]:
    flags = [_plan_flag(flag) for flag in range_flags(made.violations)]
    said = (("relaxed", made.is_relaxed), ("search_stopped", not made.is_proven))
    return flags + [Flag(code=code, severity="note") for code, is_so in said if is_so]


def _plan_flag(flag: Flag) -> Flag:
    if flag.quantity == PLASMA_FLOOR_QUANTITY:
        return msgspec.structs.replace(flag, code="plasma_floor", severity="medical", detail=PHYSICIAN)
    code = "plasma_ceiling" if flag.quantity == PLASMA_CEILING_QUANTITY else flag.code
    return msgspec.structs.replace(flag, code=code, severity="caution")


def _freed(made: BottlePlan, setting: Setting) -> list[FreedBy]:
    """Name the place a remedy is about; a further feed stands half way along its stretch."""
    ends_km = [*(feed.km for feed in setting.feeds[1:]), setting.finish_km]
    found = []
    for one in made.freed:
        feed = None if one.segment is None else setting.feeds[one.segment]
        km = None if feed is None else feed.km
        if feed is not None and one.code == "feed_point" and one.segment is not None:
            km = (feed.km + ends_km[one.segment]) / 2.0
        found.append(FreedBy(limit=one.limit, code=one.code, gain_u=one.gain_u, km=km,
                             feed_name="" if feed is None else feed.name))
    return found


def _steps(made: BottlePlan, setting: Setting) -> list[PlanStep]:
    feeds, drinks, foods = setting.feeds, setting.table.drinks, setting.table.foods
    until_km = [*(feed.km for feed in feeds[1:]), setting.finish_km]
    return [
        PlanStep(
            feed_id=feed.id, feed_name=feed.name, km=feed.km, until_km=until_km[k],
            bottles={mixed.drink.id: int(made.bottles[k, b]) for b, mixed in enumerate(drinks) if made.bottles[k, b]},
            foods={food.id: int(made.foods[k, j]) for j, food in enumerate(foods) if made.foods[k, j]},
            drink_l=float(made.drunk_l[k].sum()),
            drinks_l={mixed.drink.id: float(made.drunk_l[k, b]) for b, mixed in enumerate(drinks)
                      if made.drunk_l[k, b] > LEAST_PART},
            eat={food.id: float(made.eaten[k, j]) for j, food in enumerate(foods) if made.eaten[k, j] > LEAST_PART},
        )
        for k, feed in enumerate(feeds)
    ]


def _points(made: BottlePlan, setting: Setting) -> list[PlanPoint]:
    ends_km = [*(feed.km for feed in setting.feeds[1:]), setting.finish_km]
    return [
        PlanPoint(
            km, float(made.drunk_l[: k + 1].sum()), float(made.cumulative_sodium_mg[k]), float(made.deficit_frac[k]),
            float(made.plasma_low_mmol_per_l[k]), float(made.plasma_high_mmol_per_l[k]),
        )
        for k, km in enumerate(ends_km)
    ]
