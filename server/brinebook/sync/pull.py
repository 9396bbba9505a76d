"""Facts and documents out: filtered by scope on the server, one page at a time."""

from msgspec import Raw, Struct

from brinebook.access import disclosure
from brinebook.access.devices import SignedIn
from brinebook.records.wire import Digest, Document, PulledEvent
from brinebook.storage.repository import Heads, Repository
from brinebook.sync.cursor import Cursor

MAX_EVENTS = 500
SCAN_ROWS = 1000
MAX_SCANS = 5
MAX_DOCUMENTS = 300
MAX_DOCUMENT_BYTES = 400_000


class Page(Struct, frozen=True, kw_only=True):
    """What one exchange brings down."""

    events: list[PulledEvent]
    documents: list[Document]
    cursor: Cursor
    head: int
    more: bool
    reset: bool
    digest: Digest | None


def start(repository: Repository, who: SignedIn, cursor: Cursor | None, heads: Heads) -> tuple[Cursor, bool]:
    """Find where to read on; a new history or a new scope starts afresh."""
    beginning = Cursor(epoch=repository.epoch(), scope=disclosure.scope_hash(who.member))
    if cursor is None:
        return beginning, False
    is_same = (cursor.epoch, cursor.scope) == (beginning.epoch, beginning.scope)
    is_ahead = cursor.seq > heads.events or cursor.document_seq > heads.documents
    if not is_same or is_ahead or min(cursor.seq, cursor.document_seq) < 0:
        return beginning, True
    return cursor, False


def page(repository: Repository, who: SignedIn, cursor: Cursor | None, *, limit: int) -> Page:
    """Read the next page; all of it is one snapshot."""
    with repository.snapshot():
        heads = repository.heads(who.team_id)
        at, reset = start(repository, who, cursor, heads)
        events, seq = _events(repository, who, at.seq, heads.events, max(1, min(limit, MAX_EVENTS)))
        documents, document_seq = _documents(repository, who, at.document_seq, heads.documents)
        more = seq < heads.events or document_seq < heads.documents
        digest = None if more else _digest(repository, who)
    reached = Cursor(epoch=at.epoch, scope=at.scope, seq=seq, document_seq=document_seq)
    # A first page is a reset too: it replaces whatever the phone holds.
    return Page(
        events=events, documents=documents, cursor=reached, head=heads.events, more=more,
        reset=reset or cursor is None, digest=digest,
    )


def _events(
    repository: Repository, who: SignedIn, seq: int, head: int, limit: int,
) -> tuple[list[PulledEvent], int]:
    found: list[PulledEvent] = []
    for _ in range(MAX_SCANS):
        if seq >= head:
            break
        rows = repository.events_after(who.team_id, seq, SCAN_ROWS)
        for row in rows:
            if len(found) == limit:
                return found, seq
            seq = row.seq
            if disclosure.may_read_fact(who.member, row.disclosed_as, row.subject_id):
                found.append(PulledEvent(seq=row.seq, event=Raw(row.raw)))
    return found, seq


def _documents(repository: Repository, who: SignedIn, seq: int, head: int) -> tuple[list[Document], int]:
    if seq >= head:
        return [], seq
    found: list[Document] = []
    n_bytes = 0
    for row in repository.documents_after(who.team_id, seq, MAX_DOCUMENTS):
        if n_bytes > MAX_DOCUMENT_BYTES:
            break
        seq = row.seq
        if disclosure.may_read_document(who.member, row.type, row.subject_id):
            found.append(row.on_the_wire())
            n_bytes += len(row.body or b"")
    return found, seq


def _digest(repository: Repository, who: SignedIn) -> Digest:
    count, xor64 = 0, 0
    for digest in repository.digests(who.team_id):
        if disclosure.may_read_fact(who.member, digest.disclosed_as, digest.subject_id):
            count += digest.n_events
            xor64 ^= digest.xor64
    return Digest(count=count, xor64_hex=f"{xor64:016x}")

