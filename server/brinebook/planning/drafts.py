"""Plans as they stand in the store: a draft follows the facts, a published plan waits for the next publishing."""

import msgspec

from brinebook.planning.books import digest
from brinebook.planning.plan_reasons import moved
from brinebook.planning.publish import document
from brinebook.planning.stage_plan import plan_basis, plan_record
from brinebook.planning.standing import Race
from brinebook.records.derived import Basis, Flag, Reason, StagePlan
from brinebook.storage.repository import NewDocument, StoredDocument

SUPERSEDED = Flag(code="plan_superseded", severity="caution")


class _Head(msgspec.Struct, frozen=True):
    basis: Basis


def is_made_of(stored: StoredDocument, basis: Basis) -> bool:
    """Say whether a stored record rests on the very same things."""
    return stored.body is not None and msgspec.json.decode(stored.body, type=_Head).basis == basis


def plan_document(race: Race, rider_id: str, place: int, *, is_publishing: bool = False) -> NewDocument | None:
    """
    Bring one rider's plan up to date; None when it stands as it is.

    A published plan keeps its figures: riders carry it. When the facts have moved on it only says so, and why.
    """
    stored = _stored(race, rider_id, place)
    basis = plan_basis(race, rider_id, place)
    if is_publishing:
        version = 1 if stored is None else stored.plan_version + (stored.status == "published")
        if stored is not None and stored.basis == basis:
            # The draft on file is the plan that would be found again; publishing it is a change of status only.
            is_draft = stored.status == "draft"
            return _wrapped(msgspec.structs.replace(stored, status="published")) if is_draft else None
        made = plan_record(race, rider_id, place, status="published", plan_version=version)
        if stored is not None and stored.status == "published":
            made = msgspec.structs.replace(made, changed=_said(made, moved(stored, made)))
        return _wrapped(made)
    if stored is None:
        return _wrapped(plan_record(race, rider_id, place, status="draft", plan_version=1))
    if stored.status == "published":
        return _wrapped(_noted(stored, race, place, basis=basis))
    if stored.basis == basis:
        return None
    return _wrapped(plan_record(race, rider_id, place, status="draft", plan_version=stored.plan_version))


def _stored(race: Race, rider_id: str, place: int) -> StagePlan | None:
    found = race.books.stored.get(f"stage_plan:{rider_id}:{race.books.stages[place].id}")
    if found is None or found.body is None:
        return None
    return msgspec.json.decode(found.body, type=StagePlan)


def _wrapped(plan: StagePlan) -> NewDocument:
    return document("stage_plan", plan, subject_id=plan.rider_id)


def _noted(plan: StagePlan, race: Race, place: int, *, basis: Basis) -> StagePlan:
    """Leave a published plan's figures alone; say that it is overtaken, by what, and what the next one would hold."""
    flags = [flag for flag in plan.flags if flag.code != SUPERSEDED.code]
    if plan.basis == basis:
        return msgspec.structs.replace(plan, flags=flags, overtaken_by="")
    mark = digest(msgspec.json.encode(basis))
    if plan.overtaken_by == mark:
        return plan
    after = plan_record(race, plan.rider_id, place, status="draft", plan_version=plan.plan_version + 1)
    return msgspec.structs.replace(plan, flags=[SUPERSEDED, *flags], overtaken_by=mark,
                                   changed=_said(after, moved(plan, after)))


def _said(after: StagePlan, differences: list[Reason]) -> list[Reason]:
    """Put the figures of the next plan first, then each reason once, with its own figures where it has any."""
    told = {reason.code for reason in after.changed}
    return [*(one for one in differences if one.code not in told), *after.changed]
