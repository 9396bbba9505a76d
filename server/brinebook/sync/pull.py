"""Facts and documents out: filtered by scope on the server, one page at a time."""

from collections.abc import Callable
from dataclasses import dataclass

import msgspec
from msgspec import Raw, Struct

from brinebook.access import disclosure
from brinebook.access.devices import SignedIn
from brinebook.records.wire import Digest, Document, PulledEvent
from brinebook.storage.repository import Heads, Repository, StoredEvent
from brinebook.sync.cursor import Back, Cursor
from brinebook.sync.scope import can_step, changed_subjects, scope_of
from brinebook.sync.seal import seal_of

MAX_EVENTS = 500
SCAN_ROWS = 1000
MAX_SCANS = 5
MAX_DOCUMENTS = 300
MAX_DOCUMENT_BYTES = 400_000
FORGETTING = 2
"""From this protocol on a phone forgets single subjects, by ``drop`` and by the ``erase`` event."""

SEALING = 3
"""From this protocol on a phone keeps the seals of facts and hands them back with a fact."""


class Page(Struct, frozen=True, kw_only=True):
    """What one exchange brings down."""

    events: list[PulledEvent]
    documents: list[Document]
    cursor: Cursor
    head: int
    more: bool
    reset: bool
    drop: list[str]
    digest: Digest | None
    seals: list[str] = []
    """Those of ``events``, one by one."""
    seen: frozenset[tuple[str, str]] = frozenset()
    """Of whom, and of which sort, body or medical records are on the page."""


@dataclass(frozen=True)
class Start:
    """Where to read on, whether the phone starts afresh, and which subjects it forgets first."""

    at: Cursor
    is_afresh: bool = False
    drop: frozenset[str] = frozenset()
    again: frozenset[str] = frozenset()
    """Subjects to read again up to ``at.back``."""


def start(
    repository: Repository, who: SignedIn, cursor: Cursor | None, heads: Heads, *, protocol: int,
) -> Start:
    """Find where to read on. A new history starts afresh; a new scope steps over what did not change."""
    scope = scope_of(who.member)
    beginning = Cursor(epoch=repository.epoch(), scope=scope, erased=heads.erased)
    if cursor is None or not _is_usable(cursor, beginning, heads):
        return Start(beginning, is_afresh=True)
    if protocol < FORGETTING and (cursor.scope != scope or cursor.erased < heads.erased):
        return Start(beginning, is_afresh=True)
    if cursor.scope == scope:
        again = changed_subjects(repository, who, cursor.back.was) if cursor.back is not None else frozenset[str]()
        return Start(cursor, again=again)
    if cursor.back is not None or not can_step(cursor.scope, scope):
        return Start(beginning, is_afresh=True)
    changed = changed_subjects(repository, who, cursor.scope)
    back = Back(cursor.scope, cursor.seq, cursor.document_seq)
    return Start(msgspec.structs.replace(beginning, back=back), drop=changed, again=changed)


def _is_usable(cursor: Cursor, beginning: Cursor, heads: Heads) -> bool:
    is_ahead = cursor.seq > heads.events or cursor.document_seq > heads.documents
    return cursor.epoch == beginning.epoch and not is_ahead and min(cursor.seq, cursor.document_seq) >= 0


def page(repository: Repository, who: SignedIn, cursor: Cursor | None, *, limit: int, protocol: int) -> Page:
    """Read the next page; all of it is one snapshot."""
    with repository.snapshot(disclosure.eyes_of(who.team_id, who.member)):
        heads = repository.heads(who.team_id)
        begin = start(repository, who, cursor, heads, protocol=protocol)
        rows, seq = _rows(repository, who, begin, heads.events, max(1, min(limit, MAX_EVENTS)))
        documents, document_seq = _documents(repository, who, begin, heads.documents)
        more = seq < heads.events or document_seq < heads.documents
        digest = None if more else _digest(repository, who)
    seen = _sorts(rows, documents)
    back = begin.at.back
    is_back = back is not None and (seq < back.seq or document_seq < back.document_seq)
    reached = msgspec.structs.replace(
        begin.at, seq=seq, document_seq=document_seq, erased=heads.erased, back=back if is_back else None,
    )
    events, seals = [PulledEvent(seq=row.seq, event=Raw(row.raw)) for row in rows], list[str]()
    if protocol >= SEALING:
        key = repository.seal_key()
        seals = [seal_of(key, who.team_id, row.id, row.sha) for row in rows]
    return Page(
        events=events, documents=documents, cursor=reached, head=heads.events, more=more, reset=begin.is_afresh,
        drop=sorted(begin.drop), digest=digest, seals=seals, seen=seen,
    )


def _sorts(rows: list[StoredEvent], documents: list[Document]) -> frozenset[tuple[str, str]]:
    """Say of whom, and of which sort, body or medical records are on a page."""
    told = [(row.subject_id, disclosure.sort_of_fact(row.disclosed_as)) for row in rows]
    told += [(one.subject_id, disclosure.sort_of_document(one.type)) for one in documents if one.body is not None]
    return frozenset((about, sort) for about, sort in told if about and sort)


def _is_wanted(begin: Start, place: Callable[[Back], int]) -> Callable[[int, str], bool]:
    """Tell what to pass on: everything new, and of what was read before only subjects to be read again."""
    back = begin.at.back
    if back is None:
        return lambda _seq, _subject_id: True
    until = place(back)
    return lambda seq, subject_id: seq > until or subject_id in begin.again


def _rows(
    repository: Repository, who: SignedIn, begin: Start, head: int, limit: int,
) -> tuple[list[StoredEvent], int]:
    found: list[StoredEvent] = []
    seq, is_wanted = begin.at.seq, _is_wanted(begin, lambda back: back.seq)
    for _ in range(MAX_SCANS):
        if seq >= head:
            break
        rows = repository.events_after(who.team_id, seq, SCAN_ROWS)
        for row in rows:
            if len(found) == limit:
                return found, seq
            seq = row.seq
            if is_wanted(row.seq, row.subject_id) and disclosure.may_read_fact(
                who.member, row.disclosed_as, row.subject_id,
            ):
                found.append(row)
        if len(rows) < SCAN_ROWS:
            # The database may have left out rows by itself; all there is up to the head was looked at.
            return found, head
    return found, seq


def _documents(repository: Repository, who: SignedIn, begin: Start, head: int) -> tuple[list[Document], int]:
    found: list[Document] = []
    seq, is_wanted, n_bytes = begin.at.document_seq, _is_wanted(begin, lambda back: back.document_seq), 0
    if seq >= head:
        return found, seq
    rows = repository.documents_after(who.team_id, seq, MAX_DOCUMENTS)
    for row in rows:
        if n_bytes > MAX_DOCUMENT_BYTES:
            return found, seq
        seq = row.seq
        if is_wanted(row.seq, row.subject_id) and disclosure.may_read_document(who.member, row.type, row.subject_id):
            found.append(row.on_the_wire())
            n_bytes += len(row.body or b"")
    return found, head if len(rows) < MAX_DOCUMENTS else seq


def _digest(repository: Repository, who: SignedIn) -> Digest:
    count, xor64 = 0, 0
    for digest in repository.digests(who.team_id):
        if disclosure.may_read_fact(who.member, digest.disclosed_as, digest.subject_id):
            count += digest.n_events
            xor64 ^= digest.xor64
    return Digest(count=count, xor64_hex=f"{xor64:016x}")
