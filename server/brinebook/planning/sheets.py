"""Bottle sheets: the part of a plan that soigneurs and car crew may see; and the whole team's prep sheets and stock."""

import msgspec

from brinebook.planning.books import Books
from brinebook.planning.coolbox import prep_sheets
from brinebook.planning.publish import document
from brinebook.planning.stale import TEAM_TYPES
from brinebook.planning.stock import stock_document
from brinebook.records.derived import Basis, BottleSheet, StagePlan
from brinebook.storage.repository import NewDocument

PLAN, SHEET = "stage_plan:", "bottle_sheet:"
FLAGS_SHOWN = frozenset({"plan_superseded"})
KERB_STEP_L = 0.25
"""Half a bottle: enough for a word at arm's length, too coarse to read a body's losses from."""


def _to_step_l(litres: float) -> float:
    return round(litres / KERB_STEP_L) * KERB_STEP_L


def sheet_of(plan: StagePlan) -> BottleSheet:
    """Cut a plan down to its bottles and foods."""
    id_ = plan.id.replace(PLAN, SHEET, 1)
    return BottleSheet(
        id=id_, rider_id=plan.rider_id, stage_id=plan.stage_id, stage_number=plan.stage_number, status=plan.status,
        # A basis of keys would tell which tests and weighings exist.
        basis=Basis(engine_version=plan.basis.engine_version, input_ids=[f"{plan.id}@{plan.plan_version}"]),
        flags=[flag for flag in plan.flags if flag.code in FLAGS_SHOWN],
        plan_version=plan.plan_version, water_l=plan.water_l, steps=plan.steps,
        kerb_low_l=_to_step_l(plan.lane_low_l), kerb_high_l=_to_step_l(plan.lane_high_l),
    )


def with_sheets(made: list[NewDocument]) -> list[NewDocument]:
    """Put beside every plan about to be stored the sheet cut from it."""
    plans = (msgspec.json.decode(one.body, type=StagePlan) for one in made if one.type == "stage_plan")
    return [*made, *(document("bottle_sheet", sheet_of(plan), subject_id=plan.rider_id) for plan in plans)]


def with_sheet_ids(gone: list[str]) -> list[str]:
    """Let a sheet go with its plan."""
    return [*gone, *(id_.replace(PLAN, SHEET, 1) for id_ in gone if id_.startswith(PLAN))]


def team_sheets(books: Books, made: list[NewDocument], types: frozenset[str] = TEAM_TYPES) -> list[NewDocument]:
    """Make the team's own documents that follow from the plans: what to pack for each stage, what to buy."""
    stock = stock_document(books, made) if "stock" in types else None
    sheets = prep_sheets(books, made) if "prep_sheet" in types else []
    return [*sheets, *([] if stock is None else [stock])]
