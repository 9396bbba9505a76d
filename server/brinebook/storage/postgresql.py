"""PostgreSQL through psycopg: many writers, each team's numbers given out under the lock of its counter row."""

from collections.abc import Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager, nullcontext
from functools import cached_property
from typing import Any

from msgspec.structs import asdict
from sqlalchemy import Connection, create_engine, make_url, text

from brinebook import clock
from brinebook.storage.repository import Eyes

POOL = 16
OVERFLOW = 40
OPTIONS = "-c plan_cache_mode=force_custom_plan"
"""A plan kept from when a table was empty reads all of it for ever after; planning anew takes a tenth of a ms."""
_WRITING = {"isolation_level": "READ COMMITTED", "postgresql_readonly": False}
_READING = {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
_ALONE = text("SELECT pg_advisory_xact_lock(hashtext(:name))")
_HOLD = text("SELECT 1 FROM team_counter WHERE team_id = :team_id FOR UPDATE")
_HAS_READER = text("""
    SELECT count(*) FROM pg_roles WHERE rolname = 'brinebook_reader' AND pg_has_role(current_user, oid, 'MEMBER')
        AND has_table_privilege(oid, 'event', 'SELECT') AND has_table_privilege(oid, 'document', 'SELECT')
""")
_LOOK = text("SELECT " + ", ".join([
    *(f"set_config('brinebook.{name}', :{name}, true)" for name in Eyes.__struct_fields__),
    # Last: from here on this transaction is no longer the owner of the tables.
    "set_config('role', 'brinebook_reader', true)",
]))

_OTHERS = text("""
    SELECT count(DISTINCT coalesce(application_name, '')) FROM pg_stat_activity
    WHERE datname = current_database() AND backend_type = 'client backend'
        AND pid <> pg_backend_pid() AND application_name <> :mine
""")


def engine_url(url: str) -> str:
    """Name the driver in an address such as ``postgresql://user@host/name``."""
    return make_url(url).set(drivername="postgresql+psycopg").render_as_string(hide_password=False)


class PostgresqlBackend:
    """Implements ``Backend`` over a database whose address is given."""

    def __init__(self, url: str) -> None:
        self.url = engine_url(url)
        self.name = f"brinebook {clock.secret(6)}"
        self.engine = create_engine(
            self.url, pool_size=POOL, max_overflow=OVERFLOW, pool_use_lifo=True,
            connect_args={"application_name": self.name, "options": OPTIONS},
        )

    def writing_turn(self) -> AbstractContextManager[None]:
        """Nothing to wait for: row locks put writers of one team in order."""
        return nullcontext()

    def options(self, *, writes: bool) -> Mapping[str, Any]:
        """
        Write under read committed, read from one state.

        A writer that had to wait for the team's counter then sees what the one before it committed.
        """
        return _WRITING if writes else _READING

    def hold(self, connection: Connection, team_id: str) -> None:
        """Lock the team's counter row."""
        connection.execute(_HOLD, {"team_id": team_id})

    @cached_property
    def has_second_net(self) -> bool:
        """Tell whether the database can filter for a person by itself."""
        with self.engine.connect() as connection:
            return bool(connection.scalar(_HAS_READER))

    def look_through(self, connection: Connection, eyes: Eyes) -> None:
        """Become the reader for the rest of this transaction, and say for whom it reads."""
        if self.has_second_net:
            connection.execute(_LOOK, {
                name: value if isinstance(value, str) else ",".join(sorted(value))
                for name, value in asdict(eyes).items()
            })

    @contextmanager
    def alone(self, name: str) -> Iterator[None]:
        """Run while no other server runs anything under this name: a lock of a transaction of its own."""
        with self.engine.connect() as connection, connection.begin():
            connection.execute(_ALONE, {"name": name})
            yield

    def n_others(self) -> int:
        """Count other programs on the database."""
        with self.engine.connect() as connection:
            return connection.scalar(_OTHERS, {"mine": self.name}) or 0

    def scrub(self) -> None:
        """Remove the old versions of erased rows from the tables."""
        with self.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            connection.execute(text("VACUUM"))
