"""The fourth migration has everything computed again, and on PostgreSQL closes the tables to the reader."""

from brinebook.storage.migrate import upgrade
from brinebook.storage.postgresql import PostgresqlBackend
from brinebook.storage.sql import SqlRepository
from sqlalchemy import text

TEAM = "INSERT INTO team_counter (team_id, event_seq, document_seq, computed_seq) VALUES ('red', 0, 0, 0)"
CLOSED = "SELECT relname FROM pg_class WHERE relrowsecurity ORDER BY relname"


def test_teams_are_computed_again_and_tables_are_closed(empty):
    upgrade(empty, "r0003")
    with empty.writing() as connection:
        connection.execute(text(TEAM))

    upgrade(empty)

    assert SqlRepository(empty).uncomputed_team_ids() == ["red"]
    if isinstance(empty.backend, PostgresqlBackend):
        with empty.reading() as connection:
            closed = set(connection.scalars(text(CLOSED)))
        assert closed >= {"event", "event_digest", "document", "edited", "team_counter"}
        assert empty.backend.has_second_net
