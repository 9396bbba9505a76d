"""The contract of storage, in records. Every call names the team: no record of another team is ever in reach."""

from collections.abc import Iterable, Sequence
from contextlib import AbstractContextManager
from typing import Protocol, TypeVar

from msgspec import Raw, Struct

from brinebook.records.common import Role
from brinebook.records.edited import Edited, Member, Team
from brinebook.records.facts import Event
from brinebook.records.wire import Document
from brinebook.storage.chain import Chained
from brinebook.storage.keys import Keyed
from brinebook.storage.ledger import Erasure
from brinebook.storage.personal import Personal

E = TypeVar("E", bound=Edited)


class NewDocument(Struct, frozen=True, kw_only=True):
    """A document as its maker hands it in; storage adds the sha and the place in the documents' sequence."""

    id: str
    type: str
    subject_id: str
    body: bytes


class StoredDocument(Struct, frozen=True, kw_only=True):
    """A document's current head; ``body`` None is a tombstone."""

    seq: int
    id: str
    type: str
    subject_id: str
    sha: str
    body: bytes | None

    def on_the_wire(self) -> Document:
        """Give the form that travels."""
        body = None if self.body is None else Raw(self.body)
        return Document(id=self.id, type=self.type, subject_id=self.subject_id, sha=self.sha, body=body)


class KnownEvent(Struct, frozen=True, kw_only=True):
    """What storage remembers of an accepted event: enough to tell a repetition from a conflict."""

    id: str
    seq: int
    sha: str
    kind: str
    subject_id: str
    by: str
    disclosed_as: str


class StoredEvent(Struct, frozen=True, kw_only=True):
    """An event in the sequence with what decides who may see it."""

    seq: int
    subject_id: str
    disclosed_as: str
    raw: bytes
    id: str
    sha: str


class NewEvent(Struct, frozen=True, kw_only=True):
    """
    A checked event on its way in: the raw bytes are what is kept and relayed.

    ``disclosed_as`` is the kind whose readers may see it: its own, or for a correction that of the fact it corrects.
    """

    event: Event
    raw: bytes
    sha: str
    disclosed_as: str
    received_at_ms: int


class Aside(Struct, frozen=True, kw_only=True):
    """A body that stands aside, under a number of its own."""

    n: int
    received_at_ms: int
    raw: bytes


class SubjectDigest(Struct, frozen=True, kw_only=True):
    """Count of, and XOR over, the ids of all events of one subject and kind."""

    subject_id: str
    disclosed_as: str
    n_events: int
    xor64: int


class Heads(Struct, frozen=True):
    """The last numbers given out in a team's two sequences; 0 when there is none."""

    events: int = 0
    documents: int = 0
    erased: int = 0
    """The event that last told phones to forget a subject; 0 when there is none."""


class Device(Struct, frozen=True, kw_only=True):
    """A signed-in device. Of its token only the sha256 is known."""

    id: str
    team_id: str
    member_id: str
    name: str
    token_sha: str
    device_key_sha: str
    expires_at_ms: int
    is_revoked: bool = False
    next_token_sha: str | None = None
    """A token given out and not used yet; the first use of it ends the one before."""
    verified_at_ms: int | None = None
    """When its holder last showed, by a passkey, who he is."""


class Invite(Struct, frozen=True, kw_only=True):
    """A one-use invitation. Of its secret and code only the sha256 is known."""

    id: str
    team_id: str
    member_id: str
    secret_sha: str
    code_sha: str
    expires_at_ms: int
    claimed_at_ms: int | None = None
    claimed_key_sha: str | None = None
    device_id: str | None = None
    replaces_passkeys: bool = False
    """Made by an admin for somebody whose passkeys are lost: they end when it is used."""


class Subscription(Struct, frozen=True, kw_only=True):
    """Where one device receives wake-ups."""

    device_id: str
    team_id: str
    member_id: str
    role: Role
    rider_id: str | None
    endpoint: str
    p256dh: str
    auth: str


class Eyes(Struct, frozen=True, kw_only=True):
    """
    What one person may see of a team, for a database that filters by itself.

    ``kinds`` and ``types`` are seen of anybody, ``own_*`` of ``own_ids`` only; "?" stands for every name that is not
    among the known ones.
    """

    team_id: str
    own_ids: frozenset[str]
    kinds: frozenset[str]
    own_kinds: frozenset[str]
    known_kinds: frozenset[str]
    types: frozenset[str]
    own_types: frozenset[str]
    known_types: frozenset[str]


class People(Protocol):
    """Teams, members, invitations, devices, wake-up addresses."""

    def team_ids(self) -> list[str]:
        """List all teams."""

    def uncomputed_team_ids(self) -> list[str]:
        """List teams whose derived records may be behind their facts or edits, as after a crash."""

    def mark_computed(self, team_id: str, seq: int) -> None:
        """Note up to which fact the derived records were computed."""

    def add_team(self, team: Team) -> None:
        """Keep a new team and give it its counters."""

    def team(self, team_id: str) -> Team:
        """Read a team, or raise ``NotFound``."""

    def put_member(self, team_id: str, member: Member) -> None:
        """Keep a member, new or changed."""

    def member(self, team_id: str, member_id: str) -> Member:
        """Read a member, or raise ``NotFound``."""

    def members(self, team_id: str) -> list[Member]:
        """List a team's members."""

    def put_device(self, device: Device) -> None:
        """Keep a device, new or changed."""

    def renew_device(self, team_id: str, device_id: str, expires_at_ms: int) -> None:
        """Let a device live longer, whatever else becomes of it at the same time."""

    def devices(self, team_id: str) -> list[Device]:
        """List the devices of a team, in order of id."""

    def take_next_token(self, team_id: str, device_id: str, token_sha: str) -> None:
        """Let the token given out last be the device's only one."""

    def verify_device(self, team_id: str, device_id: str, at_ms: int) -> None:
        """Note that the device's holder showed who he is, whatever else becomes of it at the same time."""

    def device_by_token(self, token_sha: str) -> Device | None:
        """Find a device by the hash of its token, in whatever team: the token is what names the team."""

    def holder(self, token_sha: str) -> tuple[Device, Member] | None:
        """Find a device by the hash of its token, together with the member it belongs to."""

    def device(self, team_id: str, device_id: str) -> Device | None:
        """Read a device."""

    def devices_of(self, team_id: str, member_id: str) -> list[Device]:
        """List a member's devices that are not revoked."""

    def put_invite(self, invite: Invite) -> None:
        """Keep an invitation, new or claimed."""

    def invite_by_hash(self, sha: str) -> Invite | None:
        """Find an invitation by the hash of its secret or of its code."""

    def put_subscription(self, subscription: Subscription) -> None:
        """Keep a device's wake-up address; a device has one."""

    def subscriptions(self, team_id: str) -> list[Subscription]:
        """List a team's wake-up addresses."""

    def delete_subscription(self, team_id: str, device_id: str) -> None:
        """Forget a wake-up address that answers no more."""


class Facts(Protocol):
    """Events: a gap-free sequence 1..n per team, given inside the transaction that keeps them."""

    def heads(self, team_id: str) -> Heads:
        """Read the last numbers of the team's events and documents."""

    def head(self, team_id: str) -> int:
        """Read the sequence number of the team's last event; 0 when there is none."""

    def known_events(self, team_id: str, ids: Sequence[str]) -> dict[str, KnownEvent]:
        """Find which of the ids this team already has."""

    def add_events(self, team_id: str, events: Sequence[NewEvent]) -> dict[str, int]:
        """Keep new events in the order given; return id -> sequence number."""

    def quarantine(self, team_id: str, events: Sequence[NewEvent], reason: str) -> None:
        """Keep a body aside that must not enter the sequence but must not be lost either."""

    def quarantined_ids(self, team_id: str, ids: Sequence[str]) -> frozenset[str]:
        """Find which of the ids stand aside in this team."""

    def n_quarantined(self, team_id: str) -> int:
        """Count what stands aside."""

    def aside(self, team_id: str, reason: str) -> list[Aside]:
        """List what stands aside for a reason, in the order it came."""

    def mark_aside(self, team_id: str, n: int, reason: str | None) -> None:
        """Give what stands aside another reason; with None it stands aside no more."""

    def events_after(self, team_id: str, seq: int, limit: int) -> list[StoredEvent]:
        """Read the next events of the team's sequence, raw, unfiltered."""

    def events_by_id(self, team_id: str, ids: Sequence[str]) -> dict[str, Event]:
        """Read the events of this team that have one of the ids."""

    def digests(self, team_id: str) -> list[SubjectDigest]:
        """Read count and XOR per subject and kind, kept up to date in the transaction that adds events."""

    def events_for_subject(self, team_id: str, subject_id: str) -> list[Event]:
        """Read all events about one subject (a rider's id), unfolded, in sequence."""

    def events_for_team(self, team_id: str) -> list[Event]:
        """Read all events of the team, unfolded, in sequence."""


class Records(Protocol):
    """Edited records and documents."""

    def edited(self, team_id: str, type_: type[E], id_: str) -> E | None:
        """Read an edited record (Rider, RiderBody, Drink, Food, Stage) as last stored."""

    def edited_ids(self, team_id: str, type_: type[Edited]) -> frozenset[str]:
        """Name the team's edited records of one type."""

    def all_edited(self, team_id: str, type_: type[E]) -> list[E]:
        """List the team's edited records of one type, in order of id."""

    def put_edited(self, team_id: str, record: Edited) -> None:
        """Keep ``record`` and its document, version included; callers check versions in the same transaction."""

    def document(self, team_id: str, id_: str) -> StoredDocument | None:
        """Read a document's current head; None when there is none or only a tombstone."""

    def documents(self, team_id: str, type_: str | None = None) -> list[StoredDocument]:
        """List current heads (no tombstones), of one type or of all, in order of id."""

    def put_documents(self, team_id: str, documents: Iterable[NewDocument]) -> list[str]:
        """Keep those whose sha changed, each with a new place in the sequence; return their ids."""

    def delete_documents(self, team_id: str, ids: Iterable[str]) -> None:
        """Put tombstones, so that phones forget the documents too."""

    def document_head(self, team_id: str) -> int:
        """Read the last place given in the documents' sequence."""

    def documents_after(self, team_id: str, seq: int, limit: int) -> list[StoredDocument]:
        """Read the next heads of the documents' sequence, tombstones included."""


class Erasures(Protocol):
    """Subjects that asked to be forgotten."""

    def erased_subjects(self, team_id: str) -> frozenset[str]:
        """Name the subjects of the team that were erased."""

    def erasures(self) -> list[Erasure]:
        """List all erasures of all teams."""

    def erase(self, erasure: Erasure, member_ids: Sequence[str], control: NewEvent) -> int:
        """
        Erase in place: of an event stays its number, id and kind; records, documents, devices, what stood aside go.

        ``control`` takes the next number and tells phones. Return how many events lost their content.
        """

    def scrub(self) -> None:
        """Let go of old copies of what was erased: free pages, log file, dead rows."""


class Waiting(Protocol):
    """Changes that wait to be computed, and the heads of all teams."""

    def add_waiting(self, team_id: str, changed: bytes) -> None:
        """Keep a change until it is computed."""

    def waiting(self, team_id: str) -> list[tuple[int, bytes]]:
        """List a team's waiting changes by number."""

    def forget_waiting(self, team_id: str, numbers: Sequence[int]) -> None:
        """Forget changes that were computed."""

    def n_waiting(self) -> int:
        """Count waiting changes of all teams."""

    def all_heads(self) -> dict[str, Heads]:
        """Read the last numbers of all teams."""


class Repository(People, Facts, Records, Erasures, Waiting, Chained, Keyed, Personal, Protocol):
    """
    All of storage. Safe to share between threads.

    Reads outside a transaction see the last commit. Writes outside one are a transaction of their own. Foreign
    errors come out as ``StorageError`` with the original inside; ``StorageConflict`` says that another writer was
    quicker and the same may be tried again.
    """

    def transaction(self) -> AbstractContextManager[None]:
        """Open a write transaction; inside another one of the same thread it joins it."""

    def snapshot(self, eyes: Eyes | None = None) -> AbstractContextManager[None]:
        """
        Open a read transaction: all reads of this thread inside it see one state.

        With ``eyes``, a database that can filters events and documents for them by itself: a second net below the
        table of readers, which stays the first.
        """

    def hold(self, team_id: str) -> None:
        """
        Keep other writers of the team out until the running transaction ends.

        What decides over a write is read after this call, or two writers may decide by the same old state.
        """

    def epoch(self) -> str:
        """Name this history; a restored backup gets a new name."""

    def seal_key(self) -> bytes:
        """Give the secret under which this store seals what it took; it outlives a restore."""
