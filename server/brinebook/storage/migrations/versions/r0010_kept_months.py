"""How long a team keeps each sort of facts."""

import sqlalchemy as sa
from alembic import op

revision = "r0010"
down_revision = "r0009"
branch_labels = None
depends_on = None

TEXT = sa.String().with_variant(sa.String(collation="C"), "postgresql")


def upgrade() -> None:
    """Add the table; without a row the months of the release hold."""
    op.create_table(
        "kept_months", sa.Column("team_id", TEXT, primary_key=True), sa.Column("id", TEXT, primary_key=True),
        sa.Column("sort", TEXT, nullable=False), sa.Column("months", sa.BigInteger(), nullable=False),
        sa.Column("at_ms", sa.BigInteger(), nullable=False), sa.Column("from_ms", sa.BigInteger(), nullable=False),
    )
