"""The repository on SQLite."""

from contextlib import AbstractContextManager
from pathlib import Path

from sqlalchemy import select

from brinebook import clock
from brinebook.storage.database import Database, open_engine
from brinebook.storage.migrate import upgrade
from brinebook.storage.rows import table
from brinebook.storage.sql_facts import SqlFacts
from brinebook.storage.sql_people import SqlPeople

STORE = table("store")


class SqlRepository(SqlFacts, SqlPeople):
    """Implements ``Repository``."""

    def __init__(self, database: Database) -> None:
        self.database = database
        self._epoch = self._first_epoch()

    def transaction(self) -> AbstractContextManager[None]:
        """Open the one write transaction of this process."""
        return self.database.transaction()

    def snapshot(self) -> AbstractContextManager[None]:
        """Open a read transaction."""
        return self.database.snapshot()

    def epoch(self) -> str:
        """Name this history."""
        return self._epoch

    def _first_epoch(self) -> str:
        with self.database.writing() as connection:
            found = connection.scalar(select(STORE.c.value).where(STORE.c.name == "epoch"))
            if found is None:
                found = clock.secret(9)
                connection.execute(STORE.insert().values(name="epoch", value=found))
        return str(found)

    def close(self) -> None:
        """Close all idle connections."""
        self.database.close()


def open_repository(data: Path) -> SqlRepository:
    """Bring the database file of a data folder up to date and open it."""
    engine = open_engine(data)
    upgrade(engine)
    return SqlRepository(Database(engine))
