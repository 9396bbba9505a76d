"""Forgetting a person: written down first, erased in place, told to every phone by a fact of its own."""

from collections.abc import Callable

import msgspec
from msgspec import Struct

from brinebook import clock
from brinebook.access import ledger
from brinebook.records.edited import Rider, Stage
from brinebook.records.facts import Event
from brinebook.storage.errors import NotFound
from brinebook.storage.ledger import Erasure
from brinebook.storage.repository import NewEvent, Repository
from brinebook.sync.decode import content_sha

ERASE = "erase"
"""The control event: whoever reads it forgets all there is about its subject."""
BY_THE_SERVER = "server"
BY_RIDER = tuple(name for name in Stage.__struct_fields__ if name.endswith("_by_rider"))
"""What a stage says of single riders."""


class Erased(Struct, frozen=True, kw_only=True):
    """What an erasure did."""

    n_events: int
    member_ids: tuple[str, ...]


def _control(erasure: Erasure) -> NewEvent:
    event = Event(
        id=clock.new_id(), kind=ERASE, subject_id=erasure.subject_id, by=BY_THE_SERVER, device_id=BY_THE_SERVER, n=0,
        lamport=0, at_ms=erasure.erased_at_ms,
    )
    raw = msgspec.json.encode(event)
    return NewEvent(
        event=event, raw=raw, sha=content_sha(raw), disclosed_as=ERASE, received_at_ms=erasure.erased_at_ms,
    )


def _without(stage: Stage, subject_id: str) -> Stage:
    maps = {name: getattr(stage, name) for name in BY_RIDER}
    if not any(subject_id in one for one in maps.values()):
        return stage
    kept = {name: {id_: value for id_, value in one.items() if id_ != subject_id} for name, one in maps.items()}
    return msgspec.structs.replace(stage, version=stage.version + 1, **kept)


def erase_subject(
    repository: Repository, erasure: Erasure, *, write_down: Callable[[Erasure], None] = lambda _: None,
    is_known: bool = False,
) -> Erased:
    """
    Erase a rider, or a member of staff, for ever; the same erasure again does nothing.

    ``write_down`` puts the erasure into the ledger outside the database, before anything is erased; the caller
    computes and scrubs after; ``is_known`` erases somebody of whom the store has only the id. What a phone still
    holds about the subject goes when it next exchanges; what it still sends is answered ``erased``.
    """
    team_id, subject_id = erasure.team_id, erasure.subject_id
    with repository.transaction():
        repository.hold(team_id)
        if subject_id in repository.erased_subjects(team_id):
            return Erased(n_events=0, member_ids=())
        members = [one.id for one in repository.members(team_id) if subject_id in {one.id, one.rider_id}]
        if not (members or is_known) and repository.edited(team_id, Rider, subject_id) is None:
            raise NotFound("rider", subject_id)
        write_down(erasure)
        for stage in repository.all_edited(team_id, Stage):
            kept = _without(stage, subject_id)
            if kept != stage:
                repository.put_edited(team_id, kept)
        n_events = repository.erase(erasure, [id_ for id_ in members if id_ != subject_id], _control(erasure))
        # The row about it is tagged with the key that goes now: it tells that somebody was erased, never who.
        ledger.note(repository, team_id, [ledger.Entry(act="erased", by=ledger.SERVER, about=subject_id)])
        repository.destroy_person_keys(team_id, [subject_id, *members])
    return Erased(n_events=n_events, member_ids=tuple(members))
