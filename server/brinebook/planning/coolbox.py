"""The prep sheet of a stage, cut from the riders' plans: bottles, musettes, batches, ice. Nothing of a body."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil

import msgspec

from brinebook.engine.plan.drinks import water_fraction_frac
from brinebook.engine.plan.recipe import ice_kg
from brinebook.planning.basis import basis_of
from brinebook.planning.books import Books, record_key
from brinebook.planning.bottle_code import QR_SIDE_N, code_of, qr_hex
from brinebook.planning.catalogue import held_by
from brinebook.planning.palate import cannot_take
from brinebook.records.derived import (
    Flag,
    Musette,
    PrepSheet,
    SheetBottle,
    SheetMix,
    SheetPlace,
    SheetPortion,
    StagePlan,
)
from brinebook.records.edited import Drink, Stage
from brinebook.storage.repository import NewDocument

FINISH_ID = "finish"
FILLED_AT_C = 18.0
"""Tap water; common practice, no source."""
HOUR_MS = 3_600_000
FILLED_BEFORE_START_H = 2.0


@dataclass
class _Spot:
    """One place while it is being packed: what it is, then (rider or nobody, drink) per bottle, then food."""

    place_id: str
    name: str
    kind: str
    km: float
    bottles: list[tuple[str | None, str]]
    musettes: list[Musette]


def prep_sheets(books: Books, made: list[NewDocument]) -> list[NewDocument]:
    """Bring the sheets of all stages still to come, and of the one being raced, up to date with their plans."""
    plans = _plans(books, made)
    found = []
    for place in range(max(books.now, 0), len(books.stages)):
        stage = books.stages[place]
        of_stage = [plans[key] for key in sorted(plans) if key.endswith(f":{stage.id}")]
        if of_stage:
            sheet = prep_sheet(books, stage, of_stage)
            found.append(NewDocument(id=sheet.id, type="prep_sheet", subject_id=books.team_id,
                                     body=msgspec.json.encode(sheet)))
    return found


def _plans(books: Books, made: list[NewDocument]) -> dict[str, StagePlan]:
    bodies = {one.id: one.body for one in books.stored.values() if one.type == "stage_plan" and one.body is not None}
    bodies |= {one.id: one.body for one in made if one.type == "stage_plan"}
    return {id_: msgspec.json.decode(body, type=StagePlan) for id_, body in bodies.items()}


def prep_sheet(books: Books, stage: Stage, plans: list[StagePlan]) -> PrepSheet:
    """Cut one stage's sheet. Its version counts what went out: a published sheet that changes becomes the next."""
    by_number = sorted(plans, key=lambda plan: (_race_number(books, plan.rider_id), plan.rider_id))
    planned = [plan for plan in by_number if any(step.bottles or step.foods for step in plan.steps)]
    riders = {plan.rider_id for plan in planned}
    drinks = {drink.id: drink for drink in books.drinks}
    spots = _spots(books, stage, planned)
    _add_spares(spots, books.kit.spare_frac)
    counts = Counter(drink_id for spot in spots for _, drink_id in spot.bottles)
    sheet = PrepSheet(
        id=f"prep_sheet:{stage.id}", stage_id=stage.id, stage_number=stage.number,
        basis=basis_of(*(f"{plan.id}@{plan.plan_version}" for plan in planned), *_keys(books, counts),
                       record_key("kit", books.kit)),
        flags=_flags(planned, drinks, counts),
        status="published" if planned and all(plan.status == "published" for plan in planned) else "draft",
        sheet_version=1,
        plan_versions={plan.rider_id: plan.plan_version for plan in planned}, qr_side_n=QR_SIDE_N,
        places=_numbered(books, stage, spots, drinks),
        mixes=[_mix(books, drinks[drink_id], n) for drink_id, n in sorted(counts.items()) if drink_id in drinks],
        unplanned_rider_ids=sorted(set(books.riders) - riders, key=lambda id_: (_race_number(books, id_), id_)),
    )
    return _versioned(books, sheet)


def _race_number(books: Books, rider_id: str) -> int:
    rider = books.riders.get(rider_id)
    return 0 if rider is None else rider.race_number


def _keys(books: Books, drink_ids: Iterable[str]) -> list[str]:
    used = [drink for drink in books.drinks if drink.id in set(drink_ids)]
    supply_ids = {portion.supply_id for drink in used for portion in drink.recipe}
    return [
        *(record_key("drink", drink) for drink in used),
        *(record_key("supply", books.supplies[id_]) for id_ in supply_ids if id_ in books.supplies),
    ]


def _flags(plans: list[StagePlan], drinks: dict[str, Drink], counts: Counter[str]) -> list[Flag]:
    is_old = any(flag.code == "plan_superseded" for plan in plans for flag in plan.flags)
    bare = sorted(id_ for id_ in counts if id_ in drinks and drinks[id_].kind != "water" and not drinks[id_].recipe)
    return [
        *([Flag(code="plan_superseded", severity="caution")] if is_old else []),
        *(Flag(code="no_recipe", severity="note", detail=id_) for id_ in bare),
    ]


def _spots(books: Books, stage: Stage, plans: list[StagePlan]) -> list[_Spot]:
    kinds = {feed.id: feed.kind for feed in stage.feed_points}
    spots: dict[str, _Spot] = {}
    for plan in plans:
        for step in plan.steps:
            spot = spots.setdefault(step.feed_id, _Spot(
                step.feed_id, step.feed_name, kinds.get(step.feed_id, "start"), step.km, [], [],
            ))
            spot.bottles += [(plan.rider_id, drink_id) for drink_id, n in sorted(step.bottles.items())
                             for _ in range(n)]
            if step.foods:
                spot.musettes.append(Musette(rider_id=plan.rider_id, foods=dict(sorted(step.foods.items()))))
    finish_km = max((step.until_km for plan in plans for step in plan.steps), default=0.0)
    at_finish = _finish_bottles(books, plans)
    finish = [_Spot(FINISH_ID, FINISH_ID, "finish", finish_km, at_finish, [])] if at_finish else []
    used = [spot for spot in spots.values() if spot.bottles or spot.musettes]
    return [*sorted(used, key=lambda spot: (spot.km, spot.place_id)), *finish]


def _finish_bottles(books: Books, plans: list[StagePlan]) -> list[tuple[str | None, str]]:
    chosen = ((plan.rider_id, finish_drink(books, plan.rider_id)) for plan in plans)
    return [(rider_id, drink.id) for rider_id, drink in chosen if drink is not None]


def finish_drink(books: Books, rider_id: str) -> Drink | None:
    """Return the drink a rider finds at the finish: the first on offer there that he can take."""
    cannot = cannot_take(books, rider_id)
    offered = (drink for drink in books.drinks if drink.is_finish_bottle and drink.id not in cannot)
    return min(offered, key=lambda drink: drink.id, default=None)


def _add_spares(spots: list[_Spot], spare_frac: float) -> None:
    """Put spares of each drink on the cars and zones, in turn; where there is neither, at the start."""
    carriers = [spot for spot in spots if spot.kind in {"car", "zone"}] or spots[:1]
    counts = Counter(drink_id for spot in spots if spot.kind != "finish" for _, drink_id in spot.bottles)
    spares = [drink_id for drink_id, n in sorted(counts.items()) for _ in range(ceil(spare_frac * n))]
    for turn, drink_id in enumerate(spares):
        carriers[turn % len(carriers)].bottles.append((None, drink_id))


def _numbered(books: Books, stage: Stage, spots: list[_Spot], drinks: dict[str, Drink]) -> list[SheetPlace]:
    number, places = 0, []
    for spot in spots:
        bottles = []
        for rider_id, drink_id in spot.bottles:
            number += 1
            code = code_of(books.team_id, stage, (str(number), rider_id or "", drink_id, spot.place_id))
            bottles.append(SheetBottle(number=number, code=code, qr_hex=qr_hex(code), drink_id=drink_id,
                                       rider_id=rider_id))
        places.append(SheetPlace(
            place_id=spot.place_id, name=spot.name, kind=spot.kind,  # type: ignore[arg-type]
            km=spot.km, bottles=bottles, musettes=spot.musettes, ice_kg=_ice_kg(books, stage, spot, drinks),
        ))
    return places


def _ice_kg(books: Books, stage: Stage, spot: _Spot, drinks: dict[str, Drink]) -> float:
    volume_l = sum(drinks[drink_id].bottle_l for _, drink_id in spot.bottles if drink_id in drinks)
    hottest_c = max((row.air_temperature_c for row in stage.forecast), default=FILLED_AT_C)
    hours = (stage.scheduled_duration_h or 0.0) * (spot.km / max(_length_km(stage), 1.0))
    return ice_kg(volume_l, from_c=FILLED_AT_C, to_c=books.kit.drinks_cooled_to_c, air_temperature_c=hottest_c,
                  kept_h=FILLED_BEFORE_START_H + hours)


def _length_km(stage: Stage) -> float:
    return stage.course[-1].distance_km - stage.km0_km if stage.course else 0.0


def _mix(books: Books, drink: Drink, n_bottles: int) -> SheetMix:
    found = [(portion, books.supplies[portion.supply_id]) for portion in drink.recipe
             if portion.supply_id in books.supplies]
    return SheetMix(
        drink_id=drink.id, name=drink.name, short_name=drink.short_name, bottle_l=drink.bottle_l,
        n_bottles=n_bottles, volume_l=n_bottles * drink.bottle_l, sodium_mg_per_l=drink.sodium_mg_per_l,
        carbohydrate_g_per_l=drink.carbohydrate_g_per_l,
        water_frac=float(water_fraction_frac(drink.carbohydrate_g_per_l)),
        portions=[
            SheetPortion(supply_id=supply.id, name=supply.name, g_per_l=portion.g_per_l, scoop_g=supply.scoop_g,
                         sodium_mg_per_g=held_by(supply)[0])
            for portion, supply in found
        ],
    )


def _versioned(books: Books, sheet: PrepSheet) -> PrepSheet:
    stored = books.stored.get(sheet.id)
    if stored is None or stored.body is None:
        return sheet
    before = msgspec.json.decode(stored.body, type=PrepSheet)
    same = msgspec.structs.replace(
        before, flags=sheet.flags, basis=sheet.basis, status=sheet.status, plan_versions=sheet.plan_versions,
    )
    kept = msgspec.structs.replace(sheet, sheet_version=before.sheet_version, supersedes=before.supersedes)
    if kept == same or before.status == "draft":
        # Nothing that is packed has changed, or nothing went out yet.
        return kept
    return msgspec.structs.replace(sheet, sheet_version=before.sheet_version + 1, supersedes=before.sheet_version)
