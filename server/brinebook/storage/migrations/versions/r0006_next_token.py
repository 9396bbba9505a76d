"""A device may hold a second token, given out to take the place of the first."""

import sqlalchemy as sa
from alembic import op

revision = "r0006"
down_revision = "r0005"
branch_labels = None
depends_on = None

TEXT = sa.String().with_variant(sa.String(collation="C"), "postgresql")


def upgrade() -> None:
    """Add the column of the next token."""
    op.add_column("device", sa.Column("next_token_sha", TEXT, nullable=True))
    op.create_index("ix_device_next_token_sha", "device", ["next_token_sha"], unique=True)
