"""First tables."""

import sqlalchemy as sa
from alembic import op

revision = "r0001"
down_revision = None
branch_labels = None
depends_on = None

# Places in PostgreSQL are told apart and ordered byte by byte, as in SQLite, whatever the database's own collation.
TEXT = sa.String().with_variant(sa.String(collation="C"), "postgresql")
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def _key(*names: str) -> list[sa.Column[str]]:
    return [sa.Column(name, TEXT, primary_key=True, nullable=False) for name in names]


def _text(*names: str) -> list[sa.Column[str]]:
    return [sa.Column(name, TEXT, nullable=False) for name in names]


def _whole(*names: str) -> list[sa.Column[int]]:
    return [sa.Column(name, WHOLE, nullable=False) for name in names]


def _bytes(name: str, *, nullable: bool = False) -> sa.Column[bytes]:
    return sa.Column(name, sa.LargeBinary(), nullable=nullable)


def upgrade() -> None:
    """Make all tables."""
    _people()
    _facts()
    _records()


def _people() -> None:
    op.create_table("store", *_key("name"), *_text("value"))
    op.create_table("team_counter", *_key("team_id"), *_whole("event_seq", "document_seq", "computed_seq"))
    op.create_table(
        "device", *_key("team_id", "id"), *_text("member_id", "name", "token_sha", "device_key_sha"),
        *_whole("expires_at_ms"), sa.Column("is_revoked", sa.Boolean(), nullable=False),
    )
    op.create_index("ix_device_token_sha", "device", ["token_sha"], unique=True)
    op.create_table(
        "invite", *_key("team_id", "id"), *_text("member_id", "secret_sha", "code_sha"), *_whole("expires_at_ms"),
        sa.Column("claimed_at_ms", WHOLE), sa.Column("claimed_key_sha", TEXT), sa.Column("device_id", TEXT),
    )
    op.create_index("ix_invite_secret_sha", "invite", ["secret_sha"], unique=True)
    op.create_index("ix_invite_code_sha", "invite", ["code_sha"], unique=True)
    op.create_table(
        "push_subscription", *_key("team_id", "device_id"), *_text("member_id", "role"),
        sa.Column("rider_id", TEXT), *_text("endpoint", "p256dh", "auth"),
    )


def _facts() -> None:
    op.create_table(
        "event", *_key("team_id", "id"), *_whole("seq"),
        *_text("kind", "subject_id", "by", "disclosed_as", "sha"), *_whole("received_at_ms"), _bytes("raw"),
        sa.UniqueConstraint("team_id", "seq", name="event_seq_once"),
    )
    op.create_index("event_by_subject", "event", ["team_id", "subject_id", "seq"])
    op.create_table(
        "event_digest", *_key("team_id", "subject_id", "disclosed_as"), *_whole("n_events"), *_text("xor64_hex"),
    )
    op.create_table(
        "quarantine", sa.Column("n", sa.Integer(), primary_key=True, nullable=False),
        *_text("team_id", "id", "sha", "reason"), *_whole("received_at_ms"), _bytes("raw"),
        sa.UniqueConstraint("team_id", "id", "sha", name="quarantined_once"),
    )
    op.create_index("ix_quarantine_team_id", "quarantine", ["team_id"])


def _records() -> None:
    op.create_table("edited", *_key("team_id", "type", "id"), *_whole("version"), _bytes("body"))
    op.create_table(
        "document", *_key("team_id", "id"), *_whole("seq"), *_text("type", "subject_id", "sha"),
        _bytes("body", nullable=True), sa.UniqueConstraint("team_id", "seq", name="document_seq_once"),
    )
    op.create_index("document_by_type", "document", ["team_id", "type", "id"])
