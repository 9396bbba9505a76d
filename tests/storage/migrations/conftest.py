"""A database of each kind that no migration has touched yet."""

from collections.abc import Iterator

import pytest
from brinebook.storage.database import Database
from brinebook.storage.postgresql import PostgresqlBackend
from brinebook.storage.sqlite import FILE_NAME, SqliteBackend
from support import postgres


@pytest.fixture(params=postgres.BACKENDS)
def empty(request, tmp_path) -> Iterator[Database]:
    with postgres.address(request.param) as url:
        database = Database(PostgresqlBackend(url) if url else SqliteBackend(tmp_path / FILE_NAME))
        yield database
        database.close()
