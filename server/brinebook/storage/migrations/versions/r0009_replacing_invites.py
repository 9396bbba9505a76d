"""Invitations that take the place of lost passkeys."""

import sqlalchemy as sa
from alembic import op

revision = "r0009"
down_revision = "r0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column; invitations made before replace nothing."""
    op.add_column("invite", sa.Column("replaces_passkeys", sa.Boolean(), nullable=False, server_default=sa.false()))
