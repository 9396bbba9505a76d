"""Connections and transactions, the same for both kinds of database; what differs stands in ``sqlite`` and its twin."""

import threading
from collections.abc import Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from typing import Any, Protocol

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DBAPIError, IntegrityError, SQLAlchemyError

from brinebook.storage.errors import StorageConflict, StorageUnavailable
from brinebook.storage.repository import Eyes

RETRIED_STATES = frozenset({"40001", "40P01"})
"""SQL states of a transaction that lost a race (serialization failure, deadlock): the same again may well succeed."""


class Backend(Protocol):
    """What a kind of database does its own way."""

    engine: Engine

    def writing_turn(self) -> AbstractContextManager[Any]:
        """Wait for the right to write, where the database has room for one writer only."""

    def options(self, *, writes: bool) -> Mapping[str, Any]:
        """Give the execution options of a transaction."""

    def hold(self, connection: Connection, team_id: str) -> None:
        """Keep other writers of the team out until the transaction ends."""

    def look_through(self, connection: Connection, eyes: Eyes) -> None:
        """Show this transaction only what these eyes may see, where the database can."""

    def alone(self, name: str) -> AbstractContextManager[None]:
        """Run while no other server runs anything under this name."""

    def n_others(self) -> int:
        """Count other programs that use the database now, as far as the database can tell."""

    def scrub(self) -> None:
        """Overwrite what was erased, as far as the database can, and let go of old copies of it."""


def _as_ours(problem: SQLAlchemyError) -> StorageUnavailable:
    state = getattr(getattr(problem, "orig", None), "sqlstate", None)
    is_race = isinstance(problem, IntegrityError) or (isinstance(problem, DBAPIError) and state in RETRIED_STATES)
    return (StorageConflict if is_race else StorageUnavailable)(type(problem).__name__)


class Database:
    """Hands out the connection of the running transaction of this thread, or a short one for a single read."""

    def __init__(self, backend: Backend) -> None:
        self.backend = backend
        self.engine = backend.engine
        self._here = threading.local()

    def _current(self) -> Connection | None:
        found: Connection | None = getattr(self._here, "connection", None)
        return found

    @contextmanager
    def _open(self, *, writes: bool) -> Iterator[Connection]:
        options = self.backend.options(writes=writes)
        try:
            with self.engine.connect().execution_options(**options) as connection, connection.begin():
                self._here.connection, self._here.writes = connection, writes
                try:
                    yield connection
                finally:
                    self._here.connection, self._here.writes = None, False
        except SQLAlchemyError as problem:
            raise _as_ours(problem) from problem

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Open a write transaction; inside another one of the same thread it joins it."""
        if self._current() is not None:
            if not self._here.writes:
                raise StorageUnavailable("a write inside a snapshot")
            yield
            return
        with self.backend.writing_turn(), self._open(writes=True):
            yield

    @contextmanager
    def snapshot(self, eyes: Eyes | None = None) -> Iterator[None]:
        """Open a read transaction, or join whatever this thread has open."""
        if self._current() is not None:
            yield
            return
        with self._open(writes=False) as connection:
            if eyes is not None:
                self.backend.look_through(connection, eyes)
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
