"""Tables. Every key begins with the team, so that tables can be split by team."""

from typing import Any

from sqlalchemy import BigInteger, Index, Integer, LargeBinary, Table, UniqueConstraint
from sqlmodel import Field, SQLModel


class StoreRow(SQLModel, table=True):
    """What is known of the whole store: its epoch."""

    __tablename__ = "store"
    name: str = Field(primary_key=True)
    value: str


class TeamRow(SQLModel, table=True):
    """A team's two counters; a row lock here is what makes the sequences gap-free."""

    __tablename__ = "team_counter"
    team_id: str = Field(primary_key=True)
    event_seq: int = Field(default=0, sa_type=BigInteger)
    document_seq: int = Field(default=0, sa_type=BigInteger)
    computed_seq: int = Field(default=0, sa_type=BigInteger)
    erased_seq: int = Field(default=0, sa_type=BigInteger, sa_column_kwargs={"server_default": "0"})


class ErasedRow(SQLModel, table=True):
    """A subject that asked to be forgotten; what still comes in about it is refused."""

    __tablename__ = "erased_subject"
    team_id: str = Field(primary_key=True)
    subject_id: str = Field(primary_key=True)
    erased_at_ms: int = Field(sa_type=BigInteger)


class EditedRow(SQLModel, table=True):
    """A record edited by people, as JSON."""

    __tablename__ = "edited"
    team_id: str = Field(primary_key=True)
    type: str = Field(primary_key=True)
    id: str = Field(primary_key=True)
    version: int = Field(sa_type=BigInteger)
    body: bytes = Field(sa_type=LargeBinary)


class DeviceRow(SQLModel, table=True):
    """A signed-in device."""

    __tablename__ = "device"
    team_id: str = Field(primary_key=True)
    id: str = Field(primary_key=True)
    member_id: str
    name: str
    token_sha: str = Field(index=True, unique=True)
    device_key_sha: str
    expires_at_ms: int = Field(sa_type=BigInteger)
    is_revoked: bool = False
    next_token_sha: str | None = Field(default=None, index=True, unique=True)
    verified_at_ms: int | None = Field(default=None, sa_type=BigInteger)


class PasskeyRow(SQLModel, table=True):
    """A public key that a person's device signs with."""

    __tablename__ = "passkey"
    team_id: str = Field(primary_key=True)
    id: str = Field(primary_key=True, index=True, unique=True)
    member_id: str
    rp_id: str
    name: str
    public_key: bytes = Field(sa_type=LargeBinary)
    n_signed: int = Field(sa_type=BigInteger)
    made_at_ms: int = Field(sa_type=BigInteger)
    used_at_ms: int = Field(sa_type=BigInteger)


class AnsweredRow(SQLModel, table=True):
    """A challenge that was answered, kept until it would have run out."""

    __tablename__ = "answered_challenge"
    sha: str = Field(primary_key=True)
    expires_at_ms: int = Field(sa_type=BigInteger)


class InviteRow(SQLModel, table=True):
    """An invitation."""

    __tablename__ = "invite"
    team_id: str = Field(primary_key=True)
    id: str = Field(primary_key=True)
    member_id: str
    secret_sha: str = Field(index=True, unique=True)
    code_sha: str = Field(index=True, unique=True)
    expires_at_ms: int = Field(sa_type=BigInteger)
    claimed_at_ms: int | None = Field(default=None, sa_type=BigInteger)
    claimed_key_sha: str | None = None
    device_id: str | None = None
    replaces_passkeys: bool = False


class EventRow(SQLModel, table=True):
    """An accepted event: its raw bytes and what is searched by."""

    __tablename__ = "event"
    __table_args__: Any = (
        UniqueConstraint("team_id", "seq", name="event_seq_once"),
        Index("event_by_subject", "team_id", "subject_id", "seq"),
    )
    team_id: str = Field(primary_key=True)
    id: str = Field(primary_key=True)
    seq: int = Field(sa_type=BigInteger)
    kind: str
    subject_id: str
    by: str
    disclosed_as: str
    sha: str
    received_at_ms: int = Field(sa_type=BigInteger)
    raw: bytes = Field(sa_type=LargeBinary)


class DigestRow(SQLModel, table=True):
    """Count and XOR over the ids of the events of one subject and kind."""

    __tablename__ = "event_digest"
    team_id: str = Field(primary_key=True)
    subject_id: str = Field(primary_key=True)
    disclosed_as: str = Field(primary_key=True)
    n_events: int = Field(sa_type=BigInteger)
    xor64_hex: str


class QuarantineRow(SQLModel, table=True):
    """A body kept aside: a second body under a known id, or the last entries of a revoked device."""

    __tablename__ = "quarantine"
    __table_args__: Any = (UniqueConstraint("team_id", "id", "sha", name="quarantined_once"),)
    n: int | None = Field(default=None, primary_key=True)
    team_id: str = Field(index=True)
    id: str
    sha: str
    reason: str
    received_at_ms: int = Field(sa_type=BigInteger)
    raw: bytes = Field(sa_type=LargeBinary)


class DocumentRow(SQLModel, table=True):
    """The current head of a document; no body means a tombstone."""

    __tablename__ = "document"
    __table_args__: Any = (
        UniqueConstraint("team_id", "seq", name="document_seq_once"),
        Index("document_by_type", "team_id", "type", "id"),
    )
    team_id: str = Field(primary_key=True)
    id: str = Field(primary_key=True)
    seq: int = Field(sa_type=BigInteger)
    type: str
    subject_id: str
    sha: str
    body: bytes | None = Field(default=None, sa_type=LargeBinary)


class WaitingRow(SQLModel, table=True):
    """A change that waits to be computed by a worker."""

    __tablename__ = "pending_change"
    n: int | None = Field(default=None, primary_key=True, sa_type=BigInteger().with_variant(Integer(), "sqlite"))
    team_id: str = Field(index=True)
    changed: bytes = Field(sa_type=LargeBinary)


class LedgerLineRow(SQLModel, table=True):
    """A line of the chained ledger; persons stand in it as tags."""

    __tablename__ = "ledger"
    __table_args__: Any = (
        Index("ledger_by_device", "team_id", "device_id", "at_ms"),
        Index("ledger_by_subject", "team_id", "subject", "n"),
    )
    team_id: str = Field(primary_key=True)
    n: int = Field(primary_key=True, sa_type=BigInteger)
    at_ms: int = Field(sa_type=BigInteger)
    act: str
    doer: str
    device_id: str
    subject: str
    what: str
    sha: str


class LedgerHeadRow(SQLModel, table=True):
    """The last line of a team's ledger, so that one cut off at the end is missed."""

    __tablename__ = "ledger_head"
    team_id: str = Field(primary_key=True)
    n: int = Field(sa_type=BigInteger)
    sha: str


class PersonKeyRow(SQLModel, table=True):
    """A person's key; erasing destroys it."""

    __tablename__ = "person_key"
    team_id: str = Field(primary_key=True)
    person_id: str = Field(primary_key=True)
    key: bytes = Field(sa_type=LargeBinary)


class AnswerRow(SQLModel, table=True):
    """What a person said to one version of a notice."""

    __tablename__ = "notice_answer"
    __table_args__: Any = (Index("answer_by_member", "team_id", "member_id", "at_ms"),)
    team_id: str = Field(primary_key=True)
    id: str = Field(primary_key=True)
    member_id: str
    notice: str
    version: int = Field(sa_type=BigInteger)
    is_agreed: bool
    at_ms: int = Field(sa_type=BigInteger)


class WishRow(SQLModel, table=True):
    """A person's wish to be forgotten."""

    __tablename__ = "erasure_wish"
    team_id: str = Field(primary_key=True)
    subject_id: str = Field(primary_key=True)
    asked_at_ms: int = Field(sa_type=BigInteger)
    due_at_ms: int = Field(sa_type=BigInteger)


class KeptMonthsRow(SQLModel, table=True):
    """How long a team keeps a sort of facts, and from when; rows are added, never changed."""

    __tablename__ = "kept_months"
    team_id: str = Field(primary_key=True)
    id: str = Field(primary_key=True)
    sort: str
    months: int = Field(sa_type=BigInteger)
    at_ms: int = Field(sa_type=BigInteger)
    from_ms: int = Field(sa_type=BigInteger)


class SubscriptionRow(SQLModel, table=True):
    """A device's wake-up address."""

    __tablename__ = "push_subscription"
    team_id: str = Field(primary_key=True)
    device_id: str = Field(primary_key=True)
    member_id: str
    role: str
    rider_id: str | None = None
    endpoint: str
    p256dh: str
    auth: str


def table(name: str) -> Table:
    """Give the Core table behind a row class; the hot path takes this way."""
    return SQLModel.metadata.tables[name]
