"""
The queue where several servers share a PostgreSQL: changes wait in a table, procrastinate says when to look.

A change is kept before its job is asked for and forgotten after it was computed, so a server or worker that dies
leaves nothing uncomputed: the next job of the team takes it along.
"""

import asyncio
import contextlib
import logging
import threading
import time
from collections.abc import Callable
from typing import Any, TypeVar

import msgspec
from procrastinate import App, PsycopgConnector, RetryStrategy, SyncPsycopgConnector
from procrastinate.exceptions import AlreadyEnqueued, ConnectorException

from brinebook.jobs.recompute_queue import Work, describe, joined
from brinebook.planning.recompute import Changed
from brinebook.storage.errors import StorageError
from brinebook.storage.sql import SqlRepository

T = TypeVar("T")
TASK = "brinebook.recompute"
GATHER_S = 0.1
STOP_WITHIN_S = 8.0
LOOK_EVERY_S = 0.05
TRIES = RetryStrategy(max_attempts=5, exponential_wait=2)
_log = logging.getLogger("brinebook.jobs")


def prepare(url: str, repository: SqlRepository) -> None:
    """Make the tables of jobs where there are none."""
    with repository.database.backend.alone("brinebook jobs"):
        app = App(connector=SyncPsycopgConnector(conninfo=url))
        with app.open():
            if not app.check_connection():
                app.schema_manager.apply_schema()


class SharedQueue:
    """Implements ``Queue`` for a server: gathers a burst, keeps it, asks for a job."""

    def __init__(self, repository: SqlRepository, url: str, *, gather_s: float = GATHER_S) -> None:
        self._repository, self._url, self._gather_s = repository, url, gather_s
        self._pending: dict[str, Changed] = {}
        self._is_busy = False
        self._state = threading.Condition()
        self._is_closed = False
        self._app = App(connector=SyncPsycopgConnector(conninfo=url))
        self._thread = threading.Thread(target=self._run, name="recompute", daemon=True)

    def start(self) -> None:
        """Start handing over."""
        prepare(self._url, self._repository)
        self._thread.start()

    def close(self) -> None:
        """Hand over what was gathered, then stop."""
        with self._state:
            self._is_closed = True
            self._state.notify_all()
        if self._thread.is_alive():
            self._thread.join(timeout=30)

    def add(self, team_id: str, changed: Changed) -> None:
        """Ask for a computation; returns at once."""
        with self._state:
            known = self._pending.get(team_id)
            self._pending[team_id] = changed if known is None else joined(known, changed)
            self._state.notify_all()

    def exclusive(self, work: Callable[[], T]) -> T:
        """Run a planning use case while no worker computes."""
        with self._repository.database.backend.alone(TASK):
            return work()

    def wait_until_idle(self, timeout_s: float) -> bool:
        """Wait until nothing is pending here or in the table."""
        until = time.monotonic() + timeout_s
        while True:
            with self._state:
                is_idle = not self._pending and not self._is_busy
            if is_idle and self._repository.n_waiting() == 0:
                return True
            if time.monotonic() >= until:
                return False
            time.sleep(LOOK_EVERY_S)

    def _run(self) -> None:
        with self._app.open():
            while not self._is_closed or self._pending:
                with self._state:
                    self._state.wait_for(lambda: bool(self._pending) or self._is_closed)
                    self._state.wait_for(lambda: self._is_closed, timeout=self._gather_s)
                    taken, self._pending, self._is_busy = self._pending, {}, True
                for team_id, changed in taken.items():
                    self._hand_over(team_id, changed)
                with self._state:
                    self._is_busy = False

    def _hand_over(self, team_id: str, changed: Changed) -> None:
        try:
            self._repository.add_waiting(team_id, msgspec.json.encode(changed))
            asked = self._app.configure_task(TASK, lock=team_id, queueing_lock=team_id)
            with contextlib.suppress(AlreadyEnqueued):
                asked.defer(team_id=team_id)
        except (StorageError, ConnectorException):
            # The facts are safe; the counters still say that this team is not computed.
            _log.warning("could not ask for a computation; the next one takes it along")


def run(app: App) -> None:
    """Work until asked to stop; a finished job leaves nothing behind."""
    app.run_worker(concurrency=1, delete_jobs="always", shutdown_graceful_timeout=STOP_WITHIN_S)


async def run_until(app: App, is_over: asyncio.Event) -> None:
    """Work inside a running loop until told that it is over."""
    async with app.open_async():
        running = asyncio.create_task(app.run_worker_async(
            concurrency=1, delete_jobs="always", shutdown_graceful_timeout=STOP_WITHIN_S, install_signal_handlers=False,
        ))
        await is_over.wait()
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)


def _compute(work: Work, team_id: str, changed: Changed) -> None:
    try:
        work(team_id, changed)
    except StorageError:
        raise
    except Exception as problem:  # noqa: BLE001 a fact is never lost because a computation failed
        _log.error("recompute failed: %s", describe(problem))


def worker(repository: SqlRepository, url: str, work: Work) -> App:
    """
    Make the worker's side: one computation at a time, under the lock that planning takes too.

    A store that does not answer is tried again; a computation that fails is not, and says so in the log.
    """
    app = App(connector=PsycopgConnector(conninfo=url))

    @app.task(name=TASK, retry=TRIES)
    def compute(team_id: str, **_: Any) -> None:
        with repository.database.backend.alone(TASK):
            waiting = repository.waiting(team_id)
            if not waiting:
                return
            found = [msgspec.json.decode(raw, type=Changed) for _, raw in waiting]
            changed = found[0]
            for one in found[1:]:
                changed = joined(changed, one)
            _compute(work, team_id, changed)
            repository.forget_waiting(team_id, [number for number, _ in waiting])

    return app
