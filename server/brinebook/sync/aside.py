"""What a signed-out device handed in stands aside until an admin looks: it is kept as an entry, or left where it is."""

from typing import Literal

import msgspec
from msgspec import Raw, Struct

from brinebook import clock
from brinebook.access import ledger
from brinebook.access.devices import SignedIn
from brinebook.access.disclosure import may_read_fact, sort_of_fact
from brinebook.planning.recompute import Changed
from brinebook.records.facts import Event
from brinebook.records.wire import Verdict
from brinebook.storage.errors import NotFound
from brinebook.storage.repository import Aside, Repository
from brinebook.sync.merge import rejected
from brinebook.sync.push import NOTHING, push

REVOKED = "revoked"
LEFT = "left"
HIDDEN = Raw(b"{}")


class Reviewed(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """
    One entry that stands aside, as its reviewer may see it.

    ``kind`` is empty and ``body`` too where the table of readers hides such a fact from him: time and author remain.
    """

    n: int
    id: str
    by: str
    device_id: str
    subject_id: str
    at_ms: int
    received_at_ms: int
    kind: str = ""
    body: Raw = HIDDEN


def _reviewed(who: SignedIn, one: Aside) -> Reviewed:
    event = msgspec.json.decode(one.raw, type=Event)
    shown = Reviewed(
        n=one.n, id=event.id, by=event.by, device_id=event.device_id, subject_id=event.subject_id, at_ms=event.at_ms,
        received_at_ms=one.received_at_ms,
    )
    if not may_read_fact(who.member, event.kind, event.subject_id):
        return shown
    return msgspec.structs.replace(shown, kind=event.kind, body=event.body)


def listed(repository: Repository, who: SignedIn) -> list[Reviewed]:
    """List what signed-out devices of the team handed in and nobody has decided on; looks at bodies are noted."""
    found = [_reviewed(who, one) for one in repository.aside(who.team_id, REVOKED)]
    sorts = [(one.subject_id, sort_of_fact(one.kind)) for one in found if one.kind]
    ledger.looked(repository, who, [(subject_id, sort) for subject_id, sort in sorts if sort is not None])
    return found


def _author(repository: Repository, team_id: str, event: Event) -> SignedIn | None:
    """Find whose entry it is; None where the device that is named was not his, or is still signed in."""
    device = repository.device(team_id, event.device_id)
    if device is None or not device.is_revoked or device.member_id != event.by:
        return None
    return SignedIn(device=device, member=repository.member(team_id, device.member_id))


def decide(
    repository: Repository, who: SignedIn, entry_id: str, act: Literal["kept", "left"],
) -> tuple[Verdict, Changed]:
    """
    Keep an entry under its author's own rights, or leave it aside for good; either is noted in the ledger.

    An entry that its author might not have made stays aside, and the verdict says why.
    """
    with repository.transaction():
        repository.hold(who.team_id)
        one = next((found for found in repository.aside(who.team_id, REVOKED) if str(found.n) == entry_id), None)
        if one is None:
            raise NotFound("entry", entry_id)
        event = msgspec.json.decode(one.raw, type=Event)
        verdict, changed = Verdict(id=event.id, status="ok"), NOTHING
        if act == "kept":
            author = _author(repository, who.team_id, event)
            if author is None:
                limit = "a device of its author that was signed out"
                return rejected(event.id, "not_yours", field_name="device_id", limit=limit), NOTHING
            verdicts, changed = push(repository, author, [one.raw], now_ms=clock.now_ms())
            verdict = verdicts[0]
            if verdict.status not in {"ok", "dup"}:
                return verdict, NOTHING
        repository.mark_aside(who.team_id, one.n, None if act == "kept" else LEFT)
        what = event.kind if may_read_fact(who.member, event.kind, event.subject_id) else ""
        ledger.note(repository, who.team_id, [ledger.did(who, act, about=event.subject_id, what=what)])
    return verdict, changed
