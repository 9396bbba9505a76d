"""The chained ledger: who saw, took out, erased, invited, revoked; tags instead of names, keys beside them."""

import sqlalchemy as sa
from alembic import op

revision = "r0005"
down_revision = "r0004"
branch_labels = None
depends_on = None

TEXT = sa.String().with_variant(sa.String(collation="C"), "postgresql")


def _text(name: str, *, primary_key: bool = False) -> sa.Column[str]:
    return sa.Column(name, TEXT, primary_key=primary_key, nullable=False)


def _whole(name: str, *, primary_key: bool = False) -> sa.Column[int]:
    return sa.Column(name, sa.BigInteger(), primary_key=primary_key, nullable=False)


def upgrade() -> None:
    """Add the ledger, its heads and the keys of persons."""
    op.create_table(
        "ledger", _text("team_id", primary_key=True), _whole("n", primary_key=True), _whole("at_ms"),
        *(_text(name) for name in ("act", "doer", "device_id", "subject", "what", "sha")),
    )
    op.create_index("ledger_by_device", "ledger", ["team_id", "device_id", "at_ms"])
    op.create_index("ledger_by_subject", "ledger", ["team_id", "subject", "n"])
    op.create_table("ledger_head", _text("team_id", primary_key=True), _whole("n"), _text("sha"))
    op.create_table(
        "person_key", _text("team_id", primary_key=True), _text("person_id", primary_key=True),
        sa.Column("key", sa.LargeBinary(), nullable=False),
    )
