"""
The server with faults built in, for tests that must notice them: ``python mutants.py NAME+NAME serve ...``.

Nothing of this is in the product; each mutant is put over it here.
"""

import random
import sys
import threading
import time
from collections import defaultdict
from collections.abc import Callable

import msgspec
from brinebook import __main__ as program
from brinebook.records.wire import Verdict
from brinebook.storage import sql, sql_facts, sqlite
from brinebook.storage.errors import StorageError
from brinebook.sync import exchange, pull
from brinebook.sync.push import NOTHING

LATE_S = 0.4


def no_unique_key() -> None:
    """Store whatever comes, known or not."""
    inner = sql.open_repository

    def opened(*arguments):
        repository = inner(*arguments)
        with repository.database.writing() as connection:
            connection.exec_driver_sql("CREATE TABLE loose AS SELECT * FROM event")
            connection.exec_driver_sql("DROP TABLE event")
            connection.exec_driver_sql("ALTER TABLE loose RENAME TO event")
            connection.exec_driver_sql("CREATE INDEX loose_seq ON event (team_id, seq)")
        return repository

    program.open_repository = opened
    sql_facts.SqlFacts.known_events = lambda *_: {}


def ack_before_commit() -> None:
    """Say yes first, store later."""
    inner = exchange.push

    def push(repository, who, raws, **more):
        ids = [msgspec.json.decode(raw)["id"] for raw in raws]

        def later() -> None:
            time.sleep(LATE_S)
            for _ in range(3):
                try:
                    inner(repository, who, raws, **more)
                except StorageError:
                    continue
                return

        if raws:
            threading.Thread(target=later).start()
        return [Verdict(id=id_, status="ok") for id_ in ids], NOTHING

    exchange.push = push


def bare_sequence() -> None:
    """Draw numbers before the transaction that uses them, as a database sequence does."""
    inner, here = exchange.push, threading.local()
    lock, drawn = threading.Lock(), defaultdict(int)

    def push(repository, who, raws, **more):
        with lock:
            here.first = max(drawn[who.team_id], repository.head(who.team_id)) + 1
            drawn[who.team_id] = here.first + len(raws) - 1
        time.sleep(random.uniform(0, 0.05))  # noqa: S311 a pause, no secret
        return inner(repository, who, raws, **more)

    def next_seq(*given) -> int:
        connection, team_id, n_events = given[-3:]
        counter = sql_facts.TEAM
        highest = here.first + n_events - 1
        mine = (counter.c.team_id == team_id, counter.c.event_seq < highest)
        connection.execute(counter.update().where(*mine).values(event_seq=highest))
        return here.first

    exchange.push = push
    sql_facts.SqlFacts._next_seq = next_seq


def missing_scope_filter() -> None:
    """Send everything of the team to everybody in it."""

    class Open:
        """Disclosure that says yes."""

        def __getattr__(self, name: str) -> Callable[..., object]:
            return getattr(inner, name)

        def may_read_fact(self, *_) -> bool:
            return True

    inner = pull.disclosure
    pull.disclosure = Open()


def synchronous_off() -> None:
    """Answer without waiting for the disk."""
    inner = sqlite._prepare

    def prepare(connection, record) -> None:
        inner(connection, record)
        connection.execute("PRAGMA synchronous=OFF").close()

    sqlite._prepare = prepare


MUTANTS: dict[str, Callable[[], None]] = {
    "no unique key": no_unique_key,
    "ack before commit": ack_before_commit,
    "bare sequence": bare_sequence,
    "missing scope filter": missing_scope_filter,
    "synchronous off": synchronous_off,
}


def main() -> int:
    """Put the mutants on and serve."""
    for name in sys.argv[1].split("+"):
        MUTANTS.get(name, lambda: None)()
    return program.main(sys.argv[2:])


if __name__ == "__main__":
    sys.exit(main())
