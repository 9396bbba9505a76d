"""
On PostgreSQL, who reads for a person sees that person's rows only, whatever the statement asks for.

A role that may log in nowhere reads for phones; each transaction says for whom. Where the role cannot be made, since
the database's user may not make roles, everything else goes on without this second net and ``doctor`` says so.
"""

import sqlalchemy as sa
from alembic import op

revision = "r0004"
down_revision = "r0003"
branch_labels = None
depends_on = None

READER = "brinebook_reader"
_ROLE = """
DO $$ BEGIN
    IF NOT EXISTS (SELECT 1 FROM pg_roles WHERE rolname = 'brinebook_reader') THEN
        CREATE ROLE brinebook_reader NOLOGIN NOINHERIT NOBYPASSRLS;
    END IF;
    IF NOT pg_has_role(current_user, 'brinebook_reader', 'MEMBER') THEN
        EXECUTE format('GRANT brinebook_reader TO %I', current_user);
    END IF;
    EXECUTE format('GRANT USAGE ON SCHEMA %I TO brinebook_reader', current_schema());
    GRANT SELECT ON event, event_digest, document, team_counter TO brinebook_reader;
    GRANT SELECT (team_id, type, id) ON edited TO brinebook_reader;
EXCEPTION
    WHEN insufficient_privilege THEN RAISE NOTICE 'no second net: this user may not make roles';
END $$
"""


def _list(name: str) -> str:
    # A subquery is worked out once per statement, not once per row.
    return f"ANY ((SELECT string_to_array(current_setting('brinebook.{name}', true), ','))::text[])"


def _visible(column: str, what: str) -> str:
    own = f"subject_id = {_list('own_ids')}"
    known = f"{column} = {_list(what)} OR ({own} AND {column} = {_list('own_' + what)})"
    new = f"'?' = {_list(what)} OR ({own} AND '?' = {_list('own_' + what)})"
    return f"{known} OR (NOT {column} = {_list('known_' + what)} AND ({new}))"


_OF_TEAM = "team_id = (SELECT current_setting('brinebook.team_id', true))"
_POLICIES = {
    "event": f"{_OF_TEAM} AND ({_visible('disclosed_as', 'kinds')})",
    "event_digest": f"{_OF_TEAM} AND ({_visible('disclosed_as', 'kinds')})",
    "document": f"{_OF_TEAM} AND ({_visible('type', 'types')})",
    "edited": _OF_TEAM,
    "team_counter": _OF_TEAM,
}


def upgrade() -> None:
    """Make the role and the policies; compute everything again, since what coaches may read is cut otherwise now."""
    connection = op.get_bind()
    connection.execute(sa.text("UPDATE team_counter SET computed_seq = -1"))
    if connection.dialect.name != "postgresql":
        return
    for name, visible in _POLICIES.items():
        op.execute(f"ALTER TABLE {name} ENABLE ROW LEVEL SECURITY")
        op.execute(f"CREATE POLICY others_see_all ON {name} USING (current_user <> '{READER}')")
        seen = f"current_user = '{READER}' AND {visible}"
        op.execute(f"CREATE POLICY reader_sees_its_own ON {name} FOR SELECT USING ({seen})")
    op.execute(_ROLE)
