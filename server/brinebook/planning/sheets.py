"""What is cut from plans and forecasts for those who may not see a body; and the whole team's prep sheets and stock."""

from itertools import chain

import msgspec

from brinebook.planning.books import Books
from brinebook.planning.coolbox import prep_sheets
from brinebook.planning.publish import document
from brinebook.planning.stale import TEAM_TYPES
from brinebook.planning.stock import stock_document
from brinebook.planning.summaries import (
    CUP_DIGITS,
    CUT,
    FORECAST,
    FORECAST_SUMMARY,
    PLAN,
    PLAN_SUMMARY,
    forecast_summary_of,
    plan_summary_of,
)
from brinebook.records.derived import Basis, BottleSheet, StageForecast, StagePlan
from brinebook.storage.repository import NewDocument, StoredDocument

SHEET = "bottle_sheet:"
FLAGS_SHOWN = frozenset({"plan_superseded"})
KERB_STEP_L = 0.25
"""Half a bottle: enough for a word at arm's length, too coarse to read a body's losses from."""


def _to_step_l(litres: float) -> float:
    return round(litres / KERB_STEP_L) * KERB_STEP_L


def sheet_of(plan: StagePlan) -> BottleSheet:
    """Cut a plan down to its bottles and foods; its dry kerb is that of the rider's size class."""
    id_ = plan.id.replace(PLAN, SHEET, 1)
    return BottleSheet(
        id=id_, rider_id=plan.rider_id, stage_id=plan.stage_id, stage_number=plan.stage_number, status=plan.status,
        # A basis of keys would tell which tests and weighings exist.
        basis=Basis(engine_version=plan.basis.engine_version, input_ids=[CUT, f"{plan.id}@{plan.plan_version}"]),
        flags=[flag for flag in plan.flags if flag.code in FLAGS_SHOWN],
        plan_version=plan.plan_version, water_l=round(plan.water_l, CUP_DIGITS), steps=plan.steps,
        # A plan from before there were size classes leaves no lane: its word can only be "can't tell".
        kerb_low_l=_to_step_l(plan.lane_high_l if plan.size_low_l is None else plan.size_low_l),
        kerb_high_l=_to_step_l(plan.lane_high_l),
    )


def cuts_of(one: NewDocument | StoredDocument) -> list[NewDocument]:
    """Cut a plan or a forecast down for those who may not see all of it."""
    if one.body is None:
        return []
    if one.type == "stage_forecast":
        forecast = forecast_summary_of(msgspec.json.decode(one.body, type=StageForecast))
        return [document("forecast_summary", forecast, subject_id=one.subject_id)]
    if one.type != "stage_plan":
        return []
    plan = msgspec.json.decode(one.body, type=StagePlan)
    return [
        document("bottle_sheet", sheet_of(plan), subject_id=one.subject_id),
        document("plan_summary", plan_summary_of(plan), subject_id=one.subject_id),
    ]


def with_cuts(made: list[NewDocument]) -> list[NewDocument]:
    """Put beside everything about to be stored what is cut from it."""
    return [*made, *chain.from_iterable(cuts_of(one) for one in made)]


def with_cut_ids(gone: list[str]) -> list[str]:
    """Let what was cut go with what it was cut from."""
    heads = {PLAN: (SHEET, PLAN_SUMMARY), FORECAST: (FORECAST_SUMMARY,)}
    cut = [id_.replace(whole, part, 1) for id_ in gone for whole, parts in heads.items() if id_.startswith(whole)
           for part in parts]
    return [*gone, *cut]


def missing_cuts(books: Books, made: list[NewDocument], gone: list[str]) -> list[NewDocument]:
    """Cut again what an older release cut otherwise, or not at all."""
    known = {one.id for one in made} | set(gone)
    lacking = (
        one for one in books.stored.values()
        if one.type in {"stage_plan", "stage_forecast"} and one.id not in known and not _is_cut(books, one.id)
    )
    return [cut for one in lacking for cut in cuts_of(one)]


def _is_cut(books: Books, id_: str) -> bool:
    parts = [books.stored.get(cut_id) for cut_id in with_cut_ids([id_])[1:]]
    return all(one is not None and one.body is not None and CUT.encode() in one.body for one in parts)


def team_sheets(books: Books, made: list[NewDocument], types: frozenset[str] = TEAM_TYPES) -> list[NewDocument]:
    """Make the team's own documents that follow from the plans: what to pack for each stage, what to buy."""
    stock = stock_document(books, made) if "stock" in types else None
    sheets = prep_sheets(books, made) if "prep_sheet" in types else []
    return [*sheets, *([] if stock is None else [stock])]
