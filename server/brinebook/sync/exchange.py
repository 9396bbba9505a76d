"""One request: outbox up; verdicts, facts and documents down. Accepts (commits), tells what changed, answers."""

from collections.abc import Callable

import msgspec

from brinebook import clock
from brinebook.access import ledger
from brinebook.access.devices import SignedIn
from brinebook.access.errors import DeviceRevoked
from brinebook.access.passkeys import holds_back
from brinebook.planning.recompute import Changed
from brinebook.records.wire import ExchangeReply, ExchangeRequest
from brinebook.storage.repository import Repository
from brinebook.sync import cursor as cursors
from brinebook.sync.errors import TooManyEvents, UnsupportedProtocol
from brinebook.sync.pull import SEALING, page
from brinebook.sync.push import push, quarantine

PROTOCOL = 3
MAX_EVENTS = 200
OnChanged = Callable[[str, Changed], None]


def exchange(
    repository: Repository, who: SignedIn, request: ExchangeRequest, *, on_changed: OnChanged,
) -> ExchangeReply:
    """Run one exchange. Facts are durable before anything is computed from them."""
    if request.protocol < 1:
        raise UnsupportedProtocol(request.protocol, PROTOCOL)
    if len(request.events) > MAX_EVENTS:
        raise TooManyEvents(len(request.events), MAX_EVENTS)
    now_ms = clock.now_ms()
    if who.device.is_revoked:
        quarantine(repository, who.team_id, [bytes(raw) for raw in request.events], now_ms=now_ms)
        raise DeviceRevoked(repository.epoch())
    is_sealing = request.protocol >= SEALING
    raws = [bytes(raw) for raw in request.events]
    verdicts, changed = push(repository, who, raws, now_ms=now_ms, seals=request.seals, is_sealing=is_sealing)
    if changed.subject_ids:
        on_changed(who.team_id, changed)
    unread = ExchangeReply(
        protocol=min(request.protocol, PROTOCOL), epoch=repository.epoch(), now_ms=clock.now_ms(), head=0,
        verdicts=verdicts, events=[], documents=[], cursor=request.cursor or "", more=False,
    )
    if request.limit == 0:
        return unread
    found = page(repository, who, cursors.read(request.cursor), limit=request.limit, protocol=request.protocol)
    if holds_back(repository, who, found.seen):
        return msgspec.structs.replace(unread, head=found.head, is_held_back=True)
    ledger.looked(repository, who, found.seen)
    return ExchangeReply(
        protocol=min(request.protocol, PROTOCOL), epoch=repository.epoch(), now_ms=clock.now_ms(), head=found.head,
        verdicts=verdicts, events=found.events, documents=found.documents, cursor=cursors.encoded(found.cursor),
        more=found.more, reset=found.reset, drop=found.drop, digest=found.digest,
        seals=found.seals,
    )
