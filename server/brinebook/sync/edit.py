"""Records edited by people: each carries the version it was edited from; a stale edit comes back with the newer one."""

import msgspec

from brinebook.access.devices import SignedIn
from brinebook.access.errors import NotYours
from brinebook.planning.catalogue import refusal_of
from brinebook.planning.race_rules import is_time_zone
from brinebook.records.edited import Drink, Edited, Rider, RiderBody, RiderPalate, Stage, Supply
from brinebook.storage.errors import NotFound, StaleWrite
from brinebook.storage.mapping import TYPE_NAMES, thinned
from brinebook.storage.repository import E, Repository
from brinebook.sync.errors import BadRecord


def edit(repository: Repository, team_id: str, id_: str, record: E) -> E:
    """Keep an edit as the next version. The same edit sent twice is one edit."""
    if record.id != id_:
        raise BadRecord("id", record.id, "the id in the address")
    with repository.transaction():
        repository.hold(team_id)
        if isinstance(record, RiderBody | RiderPalate) and repository.edited(team_id, Rider, id_) is None:
            raise NotFound("rider", id_)
        _must_add_up(repository, team_id, record)
        if id_ in repository.erased_subjects(team_id):
            raise BadRecord("id", id_, "an id whose owner was not erased")
        current = repository.edited(team_id, type(record), id_)
        found = 0 if current is None else current.version
        stored = _with_full_course(msgspec.structs.replace(record, version=record.version + 1), current)
        if current is not None and stored == current:
            return current
        if record.version != found:
            kind = TYPE_NAMES[type(record)]
            raise StaleWrite(kind, id_, record.version, found, msgspec.json.encode(current))
        repository.put_edited(team_id, stored)
    return stored


def must_be_the_doctors(repository: Repository, who: SignedIn, record: RiderBody) -> None:
    """Let only a doctor release a rider or his sodium, and a doctor nothing else; anybody may take a release back."""
    current = repository.edited(who.team_id, RiderBody, record.id)
    is_raised = _released(record) > (0.0 if current is None else _released(current)) or (
        record.is_released_by_physician and not (current is not None and current.is_released_by_physician))
    is_doctor = who.member.role == "doctor"
    is_only_release = current is not None and record == msgspec.structs.replace(
        current, version=record.version, released_sodium_mg_per_h=record.released_sodium_mg_per_h,
        is_released_by_physician=record.is_released_by_physician)
    if (is_raised and not is_doctor) or (is_doctor and not is_only_release):
        raise NotYours("role", who.member.role)


def _released(body: RiderBody) -> float:
    return body.released_sodium_mg_per_h or 0.0


def _must_add_up(repository: Repository, team_id: str, record: Edited) -> None:
    if isinstance(record, Stage) and not is_time_zone(record.time_zone):
        raise BadRecord("time_zone", record.time_zone, "the name of a time zone, such as Europe/Paris")
    if isinstance(record, Drink | Supply):
        supplies = {supply.id: supply for supply in repository.all_edited(team_id, Supply)}
        refusal = refusal_of(record, supplies)
        if refusal is not None:
            raise BadRecord(refusal.field, refusal.value, refusal.limit)


def _with_full_course(record: E, current: E | None) -> E:
    # Phones hold a thinned course; an edit that brings it back unchanged must not replace the full one.
    if isinstance(record, Stage) and isinstance(current, Stage) and record.course == thinned(current.course):
        return msgspec.structs.replace(record, course=current.course)
    return record


def stage(repository: Repository, team_id: str, id_: str) -> Stage:
    """Read a stage, or raise ``NotFound``."""
    found = repository.edited(team_id, Stage, id_)
    if found is None:
        raise NotFound("stage", id_)
    return found
