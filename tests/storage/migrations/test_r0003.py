"""The third migration adds the table of waiting changes and leaves the erased alone."""

import pytest
from brinebook.storage.database import Database
from brinebook.storage.ledger import Erasure
from brinebook.storage.migrate import upgrade
from brinebook.storage.postgresql import PostgresqlBackend
from brinebook.storage.sql import SqlRepository
from brinebook.storage.sqlite import FILE_NAME, SqliteBackend
from sqlalchemy import text
from support import postgres


def _check(database: Database) -> None:
    upgrade(database, "r0002")
    with database.writing() as connection:
        connection.execute(text("INSERT INTO erased_subject VALUES ('red', 'r1', 1790000000000)"))

    upgrade(database)

    repository = SqlRepository(database)
    assert repository.erasures() == [Erasure(team_id="red", subject_id="r1", erased_at_ms=1_790_000_000_000)]
    assert repository.n_waiting() == 0
    repository.add_waiting("red", b"{}")
    assert repository.n_waiting() == 1
    database.close()


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_the_erased_are_still_known_and_changes_can_wait(tmp_path, kind):
    if kind == "sqlite":
        _check(Database(SqliteBackend(tmp_path / FILE_NAME)))
        return
    with postgres.database() as url:
        _check(Database(PostgresqlBackend(url)))
