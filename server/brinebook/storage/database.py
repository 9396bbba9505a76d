"""Connections: one SQLite file in WAL mode, flushed on every commit, one writer at a time in this process."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.exc import SQLAlchemyError

from brinebook.storage.errors import StorageUnavailable

WRITES = "brinebook_writes"
FILE_NAME = "brinebook.sqlite3"
BUSY_LIMIT_MS = 30_000


def _prepare(dbapi_connection: Any, _record: Any) -> None:
    # pysqlite would otherwise begin transactions by itself, and too late.
    dbapi_connection.isolation_level = None
    for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", f"busy_timeout={BUSY_LIMIT_MS}"):
        dbapi_connection.execute(f"PRAGMA {pragma}").close()


def _begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get(WRITES, False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def open_engine(data: Path) -> Engine:
    """Open the database file in the data folder, making both when missing."""
    data.mkdir(parents=True, exist_ok=True)
    engine = create_engine(f"sqlite:///{data / FILE_NAME}", pool_size=16, max_overflow=32)
    event.listen(engine, "connect", _prepare)
    event.listen(engine, "begin", _begin)
    return engine


class Database:
    """Hands out the connection of the running transaction of this thread, or a short one for a single read."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self._writer = threading.Lock()
        self._here = threading.local()

    def _current(self) -> Connection | None:
        found: Connection | None = getattr(self._here, "connection", None)
        return found

    @contextmanager
    def _open(self, *, writes: bool) -> Iterator[Connection]:
        try:
            with self.engine.connect().execution_options(**{WRITES: writes}) as connection, connection.begin():
                self._here.connection, self._here.writes = connection, writes
                try:
                    yield connection
                finally:
                    self._here.connection, self._here.writes = None, False
        except SQLAlchemyError as problem:
            raise StorageUnavailable(type(problem).__name__) from problem

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Open the one write transaction of this process; inside another one of the same thread it joins it."""
        if self._current() is not None:
            if not self._here.writes:
                raise StorageUnavailable("a write inside a snapshot")
            yield
            return
        with self._writer, self._open(writes=True):
            yield

    @contextmanager
    def snapshot(self) -> Iterator[None]:
        """Open a read transaction, or join whatever this thread has open."""
        if self._current() is not None:
            yield
            return
        with self._open(writes=False):
            yield

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection to read from."""
        with self.snapshot():
            yield self._must()

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection inside a write transaction."""
        with self.transaction():
            yield self._must()

    def _must(self) -> Connection:
        connection = self._current()
        if connection is None:
            raise StorageUnavailable("no transaction")
        return connection

    def close(self) -> None:
        """Close all idle connections."""
        self.engine.dispose()
