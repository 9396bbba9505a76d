"""News between servers on one PostgreSQL: only the name of a team whose head moved; nothing depends on its arrival."""

from collections.abc import Iterable

import psycopg
from psycopg import sql

from brinebook.storage.errors import StorageUnavailable

NAME = "brinebook_head"


class Channel:
    """One connection that listens or tells, opened anew after it broke."""

    def __init__(self, url: str) -> None:
        self._url = url
        self._connection: psycopg.Connection | None = None

    def _open(self) -> psycopg.Connection:
        if self._connection is None:
            self._connection = psycopg.connect(self._url, autocommit=True)
            self._connection.execute(sql.SQL("LISTEN {}").format(sql.Identifier(NAME)))
        return self._connection

    def tell(self, team_ids: Iterable[str]) -> None:
        """Tell all listeners, after the commit that moved the heads."""
        try:
            connection = self._open()
            for team_id in sorted(team_ids):
                connection.execute("SELECT pg_notify(%s, %s)", (NAME, team_id))
        except psycopg.Error as problem:
            self.close()
            raise StorageUnavailable(type(problem).__name__) from problem

    def heard(self, timeout_s: float) -> frozenset[str]:
        """Wait for the first news, at most so long, and give all there are by then."""
        try:
            notes = self._open().notifies(timeout=timeout_s, stop_after=1)
            return frozenset(note.payload for note in notes)
        except psycopg.Error as problem:
            self.close()
            raise StorageUnavailable(type(problem).__name__) from problem

    def close(self) -> None:
        """Close the connection."""
        if self._connection is not None:
            self._connection.close()
            self._connection = None
