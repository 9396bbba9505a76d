"""The repository in SQL, on one SQLite file or on PostgreSQL."""

import secrets
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path

from sqlalchemy import select

from brinebook import clock
from brinebook.storage.database import Database
from brinebook.storage.migrate import upgrade
from brinebook.storage.postgresql import PostgresqlBackend
from brinebook.storage.repository import Eyes
from brinebook.storage.rows import table
from brinebook.storage.sql_chain import SqlChain
from brinebook.storage.sql_erasure import SqlErasure
from brinebook.storage.sql_keys import SqlKeys
from brinebook.storage.sql_people import SqlPeople
from brinebook.storage.sql_personal import SqlPersonal
from brinebook.storage.sql_waiting import SqlWaiting
from brinebook.storage.sqlite import FILE_NAME, SqliteBackend
from brinebook.storage.upsert import put, put_once

STORE = table("store")
SEAL_BYTES = 32


class SqlRepository(SqlErasure, SqlPeople, SqlPersonal, SqlWaiting, SqlChain, SqlKeys):
    """Implements ``Repository``."""

    def __init__(self, database: Database) -> None:
        self.database = database
        self._epoch = self._first("epoch")
        self._seal_key = bytes.fromhex(self._first("seal", lambda: secrets.token_hex(SEAL_BYTES)))

    def transaction(self) -> AbstractContextManager[None]:
        """Open a write transaction."""
        return self.database.transaction()

    def snapshot(self, eyes: Eyes | None = None) -> AbstractContextManager[None]:
        """Open a read transaction, if need be with somebody's eyes."""
        return self.database.snapshot(eyes)

    def hold(self, team_id: str) -> None:
        """Keep other writers of the team out until the running transaction ends."""
        with self.database.writing() as connection:
            self.database.backend.hold(connection, team_id)

    def epoch(self) -> str:
        """Name this history."""
        return self._epoch

    def begin_epoch(self) -> str:
        """Give this history a new name: what phones have read of it so far is no longer to be trusted."""
        self._epoch = clock.secret(9)
        with self.database.writing() as connection:
            put(connection, STORE, [{"name": "epoch", "value": self._epoch}])
        return self._epoch

    def seal_key(self) -> bytes:
        """Give the secret under which this store seals what it took."""
        return self._seal_key

    def keep_seal_key(self, key: bytes) -> None:
        """Go on under the secret of the store that this one replaces."""
        self._seal_key = key
        with self.database.writing() as connection:
            put(connection, STORE, [{"name": "seal", "value": key.hex()}])

    def _first(self, name: str, make: Callable[[], str] = lambda: clock.secret(9)) -> str:
        """Read what the store knows under a name; the first to ask makes it."""
        with self.database.writing() as connection:
            put_once(connection, STORE, [{"name": name, "value": make()}])
            return str(connection.scalar(select(STORE.c.value).where(STORE.c.name == name)))

    def close(self) -> None:
        """Close all idle connections."""
        self.database.close()


def open_repository(data: Path, url: str = "") -> SqlRepository:
    """Bring the database up to date and open it: the one at ``url``, or else the file of the data folder."""
    backend = PostgresqlBackend(url) if url else SqliteBackend(data / FILE_NAME)
    database = Database(backend)
    upgrade(database)
    return SqlRepository(database)
