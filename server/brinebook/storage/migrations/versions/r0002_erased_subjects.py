"""Subjects that asked to be forgotten, and where the team's sequence says so last."""

import sqlalchemy as sa
from alembic import op

revision = "r0002"
down_revision = "r0001"
branch_labels = None
depends_on = None

TEXT = sa.String().with_variant(sa.String(collation="C"), "postgresql")


def upgrade() -> None:
    """Add the ledger of erased subjects."""
    op.create_table(
        "erased_subject",
        sa.Column("team_id", TEXT, primary_key=True, nullable=False),
        sa.Column("subject_id", TEXT, primary_key=True, nullable=False),
        sa.Column("erased_at_ms", sa.BigInteger(), nullable=False),
    )
    op.add_column("team_counter", sa.Column("erased_seq", sa.BigInteger(), nullable=False, server_default="0"))
