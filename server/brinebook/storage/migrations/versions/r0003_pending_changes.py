"""Changes that wait to be computed by a worker, where several servers share one database."""

import sqlalchemy as sa
from alembic import op

revision = "r0003"
down_revision = "r0002"
branch_labels = None
depends_on = None

TEXT = sa.String().with_variant(sa.String(collation="C"), "postgresql")


def upgrade() -> None:
    """Add the table of waiting changes."""
    op.create_table(
        "pending_change",
        sa.Column("n", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), primary_key=True, nullable=False),
        sa.Column("team_id", TEXT, nullable=False),
        sa.Column("changed", sa.LargeBinary(), nullable=False),
    )
    op.create_index("ix_pending_change_team_id", "pending_change", ["team_id"])
