"""The fourth migration has everything computed again, and on PostgreSQL closes the tables to the reader."""

import pytest
from brinebook.storage.database import Database
from brinebook.storage.migrate import upgrade
from brinebook.storage.postgresql import PostgresqlBackend
from brinebook.storage.sql import SqlRepository
from brinebook.storage.sqlite import FILE_NAME, SqliteBackend
from sqlalchemy import text
from support import postgres

TEAM = "INSERT INTO team_counter (team_id, event_seq, document_seq, computed_seq) VALUES ('red', 0, 0, 0)"
CLOSED = "SELECT relname FROM pg_class WHERE relrowsecurity ORDER BY relname"


def _check(database: Database) -> None:
    upgrade(database, "r0003")
    with database.writing() as connection:
        connection.execute(text(TEAM))

    upgrade(database)

    assert SqlRepository(database).uncomputed_team_ids() == ["red"]
    if isinstance(database.backend, PostgresqlBackend):
        with database.reading() as connection:
            closed = set(connection.scalars(text(CLOSED)))
        assert closed >= {"event", "event_digest", "document", "edited", "team_counter"}
        assert database.backend.has_second_net
    database.close()


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_teams_are_computed_again_and_tables_are_closed(tmp_path, kind):
    if kind == "sqlite":
        _check(Database(SqliteBackend(tmp_path / FILE_NAME)))
        return
    with postgres.database() as url:
        _check(Database(PostgresqlBackend(url)))
