"""The exchange: outbox up, verdicts, new facts and new records down, in one request."""

from typing import Literal

from msgspec import Raw, Struct


class ExchangeRequest(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """
    At most 200 events and 256 kB; ``cursor`` is opaque and comes from the last reply.

    ``limit`` 0 asks for verdicts alone: a phone that hands in for somebody who does not hold it now reads nothing.

    ``protocol`` 1 is answered with a ``reset`` where 2 understands ``drop`` and the ``erase`` event; 3 is given seals.
    ``seals`` name, by id, the seal under which this server once took an event of this batch, whoever wrote it.
    """

    protocol: int
    device_id: str
    cursor: str | None = None
    events: list[Raw] = []
    limit: int = 500
    seals: dict[str, str] = {}


class Verdict(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What became of one event; every id sent comes back exactly once, after a durable commit."""

    id: str
    status: Literal["ok", "dup", "conflict", "rejected", "erased", "retry"]
    seq: int = 0
    code: str = ""
    field: str = ""
    limit: str = ""
    seal: str = ""


class PulledEvent(Struct, frozen=True, array_like=True):
    """A fact with its place in the team's gap-free sequence."""

    seq: int
    event: Raw


class Document(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A record the server wrote: immutable bytes under their sha256. ``body`` null means: forget it."""

    id: str
    type: str
    subject_id: str
    sha: str
    body: Raw | None = None


class Digest(Struct, frozen=True, array_like=True):
    """Count and XOR of the first 64 bits of sha256 over the ids of all events in scope."""

    count: int
    xor64_hex: str


class ExchangeReply(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """
    What an exchange brings back.

    ``reset`` true: throw away pulled events and documents (never the outbox), then apply this page. ``drop``: before
    this page is applied, throw away pulled events and documents of these subjects; what may still be seen of them
    follows. An event of kind ``erase``: forget its subject, authored events and the tray included. A new ``epoch``,
    a ``reset`` that answers a cursor, or a ``digest`` that does not match after a refetch: push again what was
    authored here in the last 30 days, since the store may have lost it; and, with their ``seals`` (one for each of
    ``events``, from protocol 3 on), events of others that were held before and do not come down any more.
    ``is_held_back``: only the verdicts count; the rest waits until the person shows who he is.
    """

    protocol: int
    epoch: str
    now_ms: int
    head: int
    verdicts: list[Verdict]
    events: list[PulledEvent]
    documents: list[Document]
    cursor: str
    more: bool
    reset: bool = False
    drop: list[str] = []
    digest: Digest | None = None
    seals: list[str] = []
    is_held_back: bool = False
