"""What people answered to notices, and who wishes to be forgotten."""

import sqlalchemy as sa
from alembic import op

revision = "r0007"
down_revision = "r0006"
branch_labels = None
depends_on = None

TEXT = sa.String().with_variant(sa.String(collation="C"), "postgresql")


def _text(name: str, *, primary_key: bool = False) -> sa.Column[str]:
    return sa.Column(name, TEXT, primary_key=primary_key, nullable=False)


def _whole(name: str) -> sa.Column[int]:
    return sa.Column(name, sa.BigInteger(), nullable=False)


def upgrade() -> None:
    """Add both tables."""
    op.create_table(
        "notice_answer", _text("team_id", primary_key=True), _text("id", primary_key=True), _text("member_id"),
        _text("notice"), _whole("version"), sa.Column("is_agreed", sa.Boolean(), nullable=False), _whole("at_ms"),
    )
    op.create_index("answer_by_member", "notice_answer", ["team_id", "member_id", "at_ms"])
    op.create_table(
        "erasure_wish", _text("team_id", primary_key=True), _text("subject_id", primary_key=True),
        _whole("asked_at_ms"), _whole("due_at_ms"),
    )
