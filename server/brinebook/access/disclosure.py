"""
The one table of who may see and write what.

A record type has one answer. ``own`` is the person it is about; ``roles`` are those who may see it of anybody in
the team. What the table does not name is for nobody but its own subject and, among facts, the doctor.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass

from brinebook.access.roles import ALL_ROLES, BODY_READERS, COACH, DOCTOR, HANDS, NOBODY, PLANNERS, STAFF
from brinebook.records.common import Role
from brinebook.records.edited import Member
from brinebook.storage.repository import Eyes

TEAM_WIDE = ""
OTHERS = "?"
"""Stands for every kind that the tables do not name."""


@dataclass(frozen=True)
class Readers:
    """Whether the subject sees it, and which roles see it of others."""

    own: bool
    roles: frozenset[Role]


@dataclass(frozen=True)
class Writers:
    """Whether the subject may state it, and which roles may state it of others."""

    own: bool
    roles: frozenset[Role]


DOCUMENT_READERS: dict[str, Readers] = {
    "team": Readers(own=True, roles=ALL_ROLES),
    "drink": Readers(own=True, roles=ALL_ROLES),
    "food": Readers(own=True, roles=ALL_ROLES),
    "stage": Readers(own=True, roles=ALL_ROLES),
    "supply": Readers(own=False, roles=STAFF),
    "kit": Readers(own=False, roles=STAFF),
    "plan_goals": Readers(own=False, roles=STAFF),
    "rider_palate": Readers(own=True, roles=BODY_READERS | HANDS),
    "prep_sheet": Readers(own=False, roles=STAFF),
    "stock": Readers(own=False, roles=STAFF),
    "member": Readers(own=True, roles=ALL_ROLES),
    "rider": Readers(own=True, roles=STAFF),
    "bottle_sheet": Readers(own=True, roles=STAFF),
    "stage_plan": Readers(own=True, roles=BODY_READERS),
    "stage_forecast": Readers(own=True, roles=BODY_READERS),
    "plan_summary": Readers(own=False, roles=COACH),
    "forecast_summary": Readers(own=False, roles=COACH),
    "settlement_summary": Readers(own=False, roles=COACH),
    "rider_body": Readers(own=True, roles=BODY_READERS),
    "profile": Readers(own=True, roles=BODY_READERS),
    "settlement": Readers(own=True, roles=BODY_READERS),
    "stage_total": Readers(own=True, roles=BODY_READERS),
    "evening_drink": Readers(own=True, roles=BODY_READERS),
    "forecast_audit": Readers(own=False, roles=BODY_READERS),
}

_BOTTLES = Readers(own=True, roles=STAFF)
_BODY = Readers(own=True, roles=BODY_READERS)
FACT_READERS: dict[str, Readers] = {
    "drank": _BOTTLES,
    "handed_up": _BOTTLES,
    "came_back": _BOTTLES,
    "poured": _BOTTLES,
    "lost": _BOTTLES,
    "ate": _BOTTLES,
    "mix_check": Readers(own=True, roles=ALL_ROLES),
    "stock_counted": Readers(own=True, roles=STAFF),
    "delivered": Readers(own=True, roles=STAFF),
    "sheet_printed": Readers(own=True, roles=STAFF),
    "weighed": _BODY,
    "morning_check": _BODY,
    "sweat_sample": _BODY,
    "weighed_ride": _BODY,
    "ridden": _BODY,
    "note": _BODY,
    "agreed": _BODY,
    "reopened": _BODY,
    "acknowledged": _BODY,
    "calibrated": _BODY,
    "collection_booked": _BOTTLES,
    "team_count": _BOTTLES,
    "symptom": Readers(own=True, roles=DOCTOR),
    "erase": Readers(own=True, roles=ALL_ROLES),
    "erased": Readers(own=False, roles=NOBODY),
}
UNKNOWN_FACT_READERS = Readers(own=True, roles=DOCTOR)
"""A kind from a newer version may be medical, so it is treated as if it were."""

_HAND_UP = Writers(own=True, roles=BODY_READERS | HANDS)
_SHELF = Writers(own=False, roles=BODY_READERS | HANDS)
_LABORATORY = Writers(own=True, roles=BODY_READERS)
FACT_WRITERS: dict[str, Writers] = {
    "drank": _HAND_UP,
    "handed_up": _HAND_UP,
    "came_back": _HAND_UP,
    "poured": _HAND_UP,
    "lost": _HAND_UP,
    "ate": _HAND_UP,
    "mix_check": _HAND_UP,
    "stock_counted": _SHELF,
    "delivered": _SHELF,
    "sheet_printed": _SHELF,
    "weighed": Writers(own=True, roles=BODY_READERS | {"soigneur"}),
    "morning_check": Writers(own=True, roles=BODY_READERS | {"soigneur"}),
    "sweat_sample": _LABORATORY,
    "weighed_ride": _LABORATORY,
    "ridden": _LABORATORY,
    "note": Writers(own=True, roles=STAFF),
    "agreed": Writers(own=False, roles=PLANNERS),
    "reopened": Writers(own=False, roles=PLANNERS),
    "contested": Writers(own=True, roles=NOBODY),
    "acknowledged": Writers(own=False, roles=BODY_READERS),
    "calibrated": Writers(own=False, roles=BODY_READERS),
    "collection_booked": Writers(own=False, roles=BODY_READERS),
    "team_count": Writers(own=False, roles=BODY_READERS | HANDS),
    "symptom": Writers(own=True, roles=DOCTOR),
    "erase": Writers(own=False, roles=NOBODY),
    "erased": Writers(own=False, roles=NOBODY),
}
UNKNOWN_FACT_WRITERS = Writers(own=True, roles=STAFF)
TEAM_WIDE_KINDS = frozenset({
    "mix_check", "note", "stock_counted", "delivered", "sheet_printed", "team_count", "calibrated", "collection_booked",
})
"""Facts that may be about the team instead of a rider; ``subject_id`` is then the team's id."""


EDITORS: dict[str, Writers] = {
    "rider_palate": Writers(own=True, roles=PLANNERS | {"doctor"}),
    "kit": Writers(own=False, roles=PLANNERS | HANDS),
    "rider_body": Writers(own=False, roles=PLANNERS | {"doctor"}),
}
"""Edited records that others than those who plan may keep."""
_PLANNED = Writers(own=False, roles=PLANNERS)


def is_own(member: Member, subject_id: str) -> bool:
    """Tell whether a record with this subject is about the person."""
    return subject_id in {member.id, member.rider_id}


def may_read_document(member: Member, type_: str, subject_id: str) -> bool:
    """Tell whether the person may see a document."""
    readers = DOCUMENT_READERS.get(type_)
    if readers is None:
        return False
    return member.role in readers.roles or (readers.own and is_own(member, subject_id))


def may_read_fact(member: Member, kind: str, subject_id: str) -> bool:
    """Tell whether the person may see a fact."""
    readers = FACT_READERS.get(kind, UNKNOWN_FACT_READERS)
    return member.role in readers.roles or (readers.own and is_own(member, subject_id))


def may_write_fact(member: Member, kind: str, subject_id: str) -> bool:
    """Tell whether the person may state a fact about the subject."""
    writers = FACT_WRITERS.get(kind, UNKNOWN_FACT_WRITERS)
    return member.role in writers.roles or (writers.own and subject_id == member.rider_id)


def may_edit(member: Member, type_: str, subject_id: str) -> bool:
    """Tell whether the person may keep an edited record."""
    editors = EDITORS.get(type_, _PLANNED)
    return member.role in editors.roles or (editors.own and subject_id == member.rider_id)


def eyes_of(team_id: str, member: Member) -> Eyes:
    """Give the tables of readers as one person meets them, for a database that filters by itself."""
    kinds, own_kinds = _seen_by(member.role, {**FACT_READERS, OTHERS: UNKNOWN_FACT_READERS})
    types, own_types = _seen_by(member.role, DOCUMENT_READERS)
    return Eyes(
        team_id=team_id, own_ids=frozenset({member.id, member.rider_id or member.id}), kinds=kinds, own_kinds=own_kinds,
        known_kinds=frozenset(FACT_READERS), types=types, own_types=own_types, known_types=frozenset(DOCUMENT_READERS),
    )


def _seen_by(role: Role, table: Mapping[str, Readers]) -> tuple[frozenset[str], frozenset[str]]:
    of_anybody = frozenset(key for key, one in table.items() if role in one.roles)
    return of_anybody, frozenset(key for key, one in table.items() if one.own)


BODY, MEDICAL = "body", "medical"
SORTS: dict[str, str] = {
    **dict.fromkeys(
        ("rider_body", "profile", "settlement", "stage_total", "evening_drink", "stage_plan", "stage_forecast",
         "weighed", "morning_check", "weighed_ride", "sweat_sample", "ridden"), BODY,
    ),
    "symptom": MEDICAL,
}
"""Records whose reading by others is written to the ledger, and as what; a kind nobody knows counts as medical."""


def sort_of_document(type_: str) -> str | None:
    """Say as what the reading of a document is noted; None when it is not."""
    return SORTS.get(type_)


def sort_of_fact(kind: str) -> str | None:
    """Say as what the reading of a fact is noted; None when it is not."""
    return SORTS.get(kind) if kind in FACT_READERS else MEDICAL


def _version() -> str:
    """Name the two tables of readers; another release that answers differently has another name."""
    tables = ({**DOCUMENT_READERS}, {**FACT_READERS, "": UNKNOWN_FACT_READERS})
    told = [[(key, one.own, sorted(one.roles)) for key, one in sorted(table.items())] for table in tables]
    return hashlib.sha256(repr(told).encode()).hexdigest()[:8]


TABLE_VERSION = _version()
