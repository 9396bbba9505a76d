"""Which bottle, where: one rider's forecast, the drinks as mixed and the limits to a plan with its reasons."""

from dataclasses import dataclass, replace
from typing import Literal

import msgspec
import numpy as np
from numpy.typing import NDArray

from brinebook.engine.plan.balance import PlanTargets, targets, watson_tbw_l
from brinebook.engine.plan.bottles import BottlePlan, BottlePlanInput, DrinkOption, FoodOption, PlanLimits, plan_bottles
from brinebook.engine.plan.drinks import water_fraction_frac
from brinebook.engine.stage.segments import SegmentTable
from brinebook.planning.assemble import segments_of
from brinebook.planning.basis import basis_of
from brinebook.planning.books import record_key
from brinebook.planning.evening import carried_into
from brinebook.planning.explained import stage_plan_explained
from brinebook.planning.lane import COOL_BELOW_C, dry_limit_l, kerbs_l
from brinebook.planning.palate import cannot_take, palate_keys
from brinebook.planning.plan_reasons import changes, plan_reasons
from brinebook.planning.publish import range_flags
from brinebook.planning.standing import Race
from brinebook.planning.strength import Mixed, drinks_as_mixed
from brinebook.planning.warnings import PHYSICIAN
from brinebook.records.common import StageKind
from brinebook.records.derived import Basis, Flag, PlanPoint, PlanStep, StagePlan
from brinebook.records.edited import FeedPoint, Food, RiderBody, Stage

N_BOTTLES_PER_FEED = 2
N_BOTTLES_AT_A_HOT_START = 3
HOT_FROM_C = 25.0
MAX_FEEDS = 9
START = FeedPoint(id="start", name="start", kind="start", km=0.0)
CARBOHYDRATE_G_PER_H: dict[StageKind, float] = {
    "flat": 75.0, "hilly": 85.0, "mountain": 90.0, "time_trial": 60.0, "mountain_time_trial": 60.0, "rest": 0.0,
}
PLASMA_FLOOR_QUANTITY = "plasma_low_mmol_per_l"
PLASMA_CEILING_QUANTITY = "plasma_high_mmol_per_l"


@dataclass(frozen=True)
class Table:
    """What the plan chooses from, in one fixed order."""

    drinks: tuple[Mixed, ...]
    foods: tuple[Food, ...]


def table_of(race: Race, rider_id: str, place: int) -> Table:
    """Lay out the drinks as mixed and the foods; what the rider cannot take is not on his table."""
    mixed, foods, cannot = drinks_as_mixed(race.books, place), race.books.foods, cannot_take(race.books, rider_id)
    return Table(
        tuple(mixed[key] for key in sorted(mixed) if key not in cannot),
        tuple(foods[key] for key in sorted(foods) if key not in cannot),
    )


def plan_basis(race: Race, rider_id: str, place: int) -> Basis:
    """Name what a plan rests on, without making it."""
    table, standing = table_of(race, rider_id, place), race.standing(rider_id, place)
    return basis_of(
        *race.ride_keys(rider_id, place), standing.key,
        carried_into(race, rider_id, place).key,
        *(key for drink in table.drinks for key in drink.keys),
        *(record_key("food", food) for food in table.foods),
        *palate_keys(race.books, rider_id),
        race.before(rider_id, place).key,
    )


def is_locked(body: RiderBody) -> bool:
    """Say whether a plan has to wait for a physician."""
    return body.needs_physician_release and not body.is_released_by_physician


def feeds_of(stage: Stage, finish_km: float) -> tuple[FeedPoint, ...]:
    """Return the feeds in order of the road, the start first; where they are many, every second car window goes."""
    start = next((feed for feed in stage.feed_points if feed.kind == "start"), START)
    later = [feed for feed in stage.feed_points if feed.kind != "start" and 0.0 < feed.km < finish_km]
    zones = [feed for feed in later if feed.kind == "zone"]
    cars = sorted((feed for feed in later if feed.kind == "car"), key=_on_the_road)
    while cars and len(zones) + len(cars) >= MAX_FEEDS:
        cars = cars[1::2]
    return (start, *sorted(zones + cars, key=_on_the_road))


def _on_the_road(feed: FeedPoint) -> tuple[float, str]:
    return feed.km, feed.id


def plan_record(
    race: Race, rider_id: str, place: int, *, status: Literal["draft", "published"], plan_version: int
) -> StagePlan:
    """Plan one rider's stage; without a physician's release the plan is empty and says so."""
    stage, standing = race.books.stages[place], race.standing(rider_id, place)
    segments, forecast = segments_of(race.ride(rider_id, place)), race.forecast(rider_id, place)
    carried, table = carried_into(race, rider_id, place), table_of(race, rider_id, place)
    limit_l = dry_limit_l(standing.body.mass_kg, air_temperature_max_c=float(segments.air_temperature_c.max()))
    q10_l, q50_l = (float(value) for value in forecast.cumulative_quantiles_l[:2, -1])
    low_l, high_l = kerbs_l((q10_l, q50_l), limit_l=limit_l)
    aim = targets(
        q50_l, mass_kg=standing.body.mass_kg, sodium_mmol_per_l=standing.sodium.estimate.mean_mmol_per_l
    )
    feeds = feeds_of(stage, float(segments.end_km[-1]))
    made = _made(race, rider_id, place, feeds, table, aim)
    return StagePlan(
        id=f"stage_plan:{rider_id}:{stage.id}",
        rider_id=rider_id,
        basis=plan_basis(race, rider_id, place),
        flags=[
            *_lock_flags(standing.body), *([] if made is None else _plan_flags(made)),
            *(flag for drink in table.drinks for flag in drink.flags),
            *([] if forecast.share_at_cap_frac <= 0.0 else [
                Flag(code="at_cap", severity="caution", quantity="share_at_cap_frac", value=forecast.share_at_cap_frac)
            ]),
        ],
        reasons=plan_reasons(standing, q50_l=q50_l, aim=aim, table_evidence=_evidence_of(table)),
        explained=[] if made is None else stage_plan_explained(
            standing, sweat_q10_l=q10_l, sweat_q50_l=q50_l, aim=aim,
            plasma_low=float(made.plasma_low_mmol_per_l.min()), deficit=float(made.deficit_frac[-1]),
        ),
        stage_id=stage.id,
        stage_number=stage.number,
        status=status,
        plan_version=plan_version,
        supersedes=plan_version - 1 if plan_version > 1 else None,
        water_l=0.0 if made is None else float(made.cumulative_water_l[-1]),
        sodium_mg=0.0 if made is None else float(made.cumulative_sodium_mg[-1]),
        carbohydrate_g=0.0 if made is None else float(made.cumulative_carbohydrate_g[-1]),
        target_water_l=aim.water_l,
        target_sodium_mg=aim.sodium_mg,
        lane_low_l=low_l,
        lane_high_l=high_l,
        steps=[] if made is None else _steps(made, feeds, table, float(segments.end_km[-1])),
        along=[] if made is None else _points(made, feeds, float(segments.end_km[-1])),
        pre_stage_drink_l=0.0 if is_locked(standing.body) else carried.drink_l,
        binding_limits=[] if made is None else list(made.binding),
        changed=changes(race, rider_id, place),
    )


def _evidence_of(table: Table) -> bool:
    return any(len(drink.keys) > 1 for drink in table.drinks)


def _made(
    race: Race, rider_id: str, place: int, feeds: tuple[FeedPoint, ...], table: Table, aim: PlanTargets
) -> BottlePlan | None:
    body = race.books.bodies[rider_id]
    if is_locked(body) or not table.drinks:
        return None
    ride = race.ride(rider_id, place)
    segments, forecast = segments_of(ride), race.forecast(rider_id, place)
    kilometres = np.array([feed.km for feed in feeds] + [float(segments.end_km[-1])])
    kilometres[0] = 0.0
    known = np.concatenate([[0.0], segments.end_km])
    quantiles = [
        np.interp(kilometres, known, np.concatenate([[0.0], row])) for row in forecast.cumulative_quantiles_l
    ]
    limits = PlanLimits()
    if body.max_intake_l_per_h is not None:
        limits = replace(limits, max_intake_l_per_h=min(limits.max_intake_l_per_h, body.max_intake_l_per_h))
    return plan_bottles(BottlePlanInput(
        times_h=np.interp(kilometres, known, np.concatenate([[0.0], segments.elapsed_h])),
        sweat_q10_l=quantiles[0], sweat_q50_l=quantiles[1], sweat_q90_l=quantiles[2],
        tbw_l=watson_tbw_l(body.mass_kg, height_m=body.height_m, age_years=float(body.age_years), sex=body.sex),
        mass_kg=body.mass_kg,
        sodium_mmol_per_l=race.standing(rider_id, place).sodium.estimate.mean_mmol_per_l,
        drinks=tuple(_drink_option(drink) for drink in table.drinks),
        foods=tuple(FoodOption(carbohydrate_g=food.carbohydrate_g, sodium_mg=food.sodium_mg, water_l=food.water_l)
                    for food in table.foods),
        max_bottles_per_feed=_hands(segments, len(feeds)),
        target_water_l=aim.water_l, target_sodium_mg=aim.sodium_mg,
        carbohydrate_target_g_per_h=CARBOHYDRATE_G_PER_H[ride.keyed.stage.kind],
        is_cool=_is_cool(segments), is_sodium_needed=aim.needed_sodium_share_frac > 0.0, limits=limits,
    ))


def _hands(segments: SegmentTable, n_feeds: int) -> NDArray[np.int64]:
    """Return the bottles taken at each feed: two cages, and a third in the pocket at the start of a hot stage."""
    hands = np.full(n_feeds, N_BOTTLES_PER_FEED)
    if float(segments.air_temperature_c.max()) >= HOT_FROM_C:
        hands[0] = N_BOTTLES_AT_A_HOT_START
    return hands


def _is_cool(segments: SegmentTable) -> bool:
    return float(segments.air_temperature_c.max()) < COOL_BELOW_C


def _drink_option(mixed: Mixed) -> DrinkOption:
    drink = mixed.drink
    return DrinkOption(
        bottle_l=drink.bottle_l, water_frac=float(water_fraction_frac(drink.carbohydrate_g_per_l)),
        sodium_mg_per_l=mixed.sodium_mg_per_l, carbohydrate_g_per_l=drink.carbohydrate_g_per_l,
    )


def _lock_flags(body: RiderBody) -> list[Flag]:
    if not is_locked(body):
        return []
    return [Flag(code="physician_release", severity="medical", detail=PHYSICIAN)]


def _plan_flags(made: BottlePlan) -> list[Flag]:
    flags = [_plan_flag(flag) for flag in range_flags(made.violations)]
    return flags + ([Flag(code="relaxed", severity="note")] if made.is_relaxed else [])


def _plan_flag(flag: Flag) -> Flag:
    if flag.quantity == PLASMA_FLOOR_QUANTITY:
        return msgspec.structs.replace(flag, code="plasma_floor", severity="medical", detail=PHYSICIAN)
    code = "plasma_ceiling" if flag.quantity == PLASMA_CEILING_QUANTITY else flag.code
    return msgspec.structs.replace(flag, code=code, severity="caution")


def _steps(made: BottlePlan, feeds: tuple[FeedPoint, ...], table: Table, finish_km: float) -> list[PlanStep]:
    until_km = [*(feed.km for feed in feeds[1:]), finish_km]
    return [
        PlanStep(
            feed_id=feed.id, feed_name=feed.name, km=feed.km, until_km=until_km[k],
            bottles={mixed.drink.id: int(made.bottles[k, b]) for b, mixed in enumerate(table.drinks)
                     if made.bottles[k, b]},
            foods={food.id: int(made.foods[k, j]) for j, food in enumerate(table.foods) if made.foods[k, j]},
            drink_l=float(made.drunk_l[k].sum()),
        )
        for k, feed in enumerate(feeds)
    ]


def _points(made: BottlePlan, feeds: tuple[FeedPoint, ...], finish_km: float) -> list[PlanPoint]:
    ends_km = [*(feed.km for feed in feeds[1:]), finish_km]
    return [
        PlanPoint(
            km, float(made.drunk_l[: k + 1].sum()), float(made.cumulative_sodium_mg[k]), float(made.deficit_frac[k]),
            float(made.plasma_low_mmol_per_l[k]), float(made.plasma_high_mmol_per_l[k]),
        )
        for k, km in enumerate(ends_km)
    ]
