"""One SQLite file in WAL mode, flushed on every commit, one writer at a time in this process."""

import threading
from collections.abc import Iterator, Mapping
from contextlib import AbstractContextManager, closing, contextmanager, nullcontext
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, create_engine, event

from brinebook.storage.repository import Eyes

WRITES = "brinebook_writes"
FILE_NAME = "brinebook.sqlite3"
BUSY_LIMIT_MS = 30_000


def _prepare(dbapi_connection: Any, _record: Any) -> None:
    # pysqlite would otherwise begin transactions by itself, and too late.
    dbapi_connection.isolation_level = None
    pragmas = (
        "journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", "secure_delete=ON", f"busy_timeout={BUSY_LIMIT_MS}",
    )
    for pragma in pragmas:
        dbapi_connection.execute(f"PRAGMA {pragma}").close()


def _begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get(WRITES, False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


class SqliteBackend:
    """Implements ``Backend`` over one file."""

    def __init__(self, path: Path) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        self.path = path
        self.engine = create_engine(f"sqlite:///{path}", pool_size=16, max_overflow=32)
        event.listen(self.engine, "connect", _prepare)
        event.listen(self.engine, "begin", _begin)
        self._writer = threading.Lock()

    def writing_turn(self) -> threading.Lock:
        """Wait for the one writer's place: a lock is fair and quick where the file's own lock is polled."""
        return self._writer

    def options(self, *, writes: bool) -> Mapping[str, Any]:
        """Begin at once as a writer, so that what was read cannot have changed by the time of the write."""
        return {WRITES: writes}

    def hold(self, connection: Connection, team_id: str) -> None:
        """Nothing to do: there is one writer."""

    def look_through(self, connection: Connection, eyes: Eyes) -> None:
        """Nothing to do: a file has no roles, the table of readers is all there is."""

    @contextmanager
    def plain(self) -> Iterator[Any]:
        """Lend the driver's own connection, outside any transaction."""
        with closing(self.engine.raw_connection()) as connection:
            yield connection.cursor()

    def alone(self, name: str) -> AbstractContextManager[None]:  # noqa: ARG002 part of the protocol
        """Nothing to wait for: one server, whose queue has a lock of its own."""
        return nullcontext()

    def n_others(self) -> int:
        """Count other programs on the database; who serves a file holds its folder's lock instead."""
        return 0

    def scrub(self) -> None:
        """Empty the log file, whose old pages may still hold what was erased; the pages themselves are zeroed."""
        with self.plain() as connection:
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
