"""Passkeys, the challenges that were answered, and when a device's holder last showed who he is."""

import sqlalchemy as sa
from alembic import op

revision = "r0008"
down_revision = "r0007"
branch_labels = None
depends_on = None

TEXT = sa.String().with_variant(sa.String(collation="C"), "postgresql")


def _text(name: str, *, primary_key: bool = False) -> sa.Column[str]:
    return sa.Column(name, TEXT, primary_key=primary_key, nullable=False)


def _whole(name: str) -> sa.Column[int]:
    return sa.Column(name, sa.BigInteger(), nullable=False)


def upgrade() -> None:
    """Add both tables, and the column to the devices."""
    op.create_table(
        "passkey", _text("team_id", primary_key=True), _text("id", primary_key=True),
        *(_text(name) for name in ("member_id", "rp_id", "name")),
        sa.Column("public_key", sa.LargeBinary(), nullable=False),
        *(_whole(name) for name in ("n_signed", "made_at_ms", "used_at_ms")),
    )
    op.create_index("ix_passkey_id", "passkey", ["id"], unique=True)
    op.create_table("answered_challenge", _text("sha", primary_key=True), _whole("expires_at_ms"))
    op.add_column("device", sa.Column("verified_at_ms", sa.BigInteger(), nullable=True))
