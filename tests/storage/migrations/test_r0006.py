"""The fifth and sixth migrations add the ledger and the next token, and keep who is signed in."""

import pytest
from brinebook.storage.database import Database
from brinebook.storage.migrate import upgrade
from brinebook.storage.postgresql import PostgresqlBackend
from brinebook.storage.sql import SqlRepository
from brinebook.storage.sqlite import FILE_NAME, SqliteBackend
from sqlalchemy import text
from support import postgres

DEVICE = "INSERT INTO device VALUES ('red', 'd1', 'm1', 'phone', 'sha-1', '', 1790000000000, :is_revoked)"


def _check(database: Database) -> None:
    upgrade(database, "r0004")
    with database.writing() as connection:
        connection.execute(text(DEVICE), {"is_revoked": False})

    upgrade(database)

    repository = SqlRepository(database)
    device = repository.device("red", "d1")
    assert device is not None
    assert (device.token_sha, device.next_token_sha, device.is_revoked) == ("sha-1", None, False)
    assert (repository.ledger_rows("red"), repository.ledger_head("red")) == ([], None)
    database.close()


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_devices_stay_signed_in_and_the_ledger_begins_empty(tmp_path, kind):
    if kind == "sqlite":
        _check(Database(SqliteBackend(tmp_path / FILE_NAME)))
        return
    with postgres.database() as url:
        _check(Database(PostgresqlBackend(url)))
