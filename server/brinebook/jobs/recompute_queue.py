"""Recomputes per team, one at a time, after a short quiet moment; a burst of facts is computed once."""

import logging
import threading
import time
from collections.abc import Callable
from typing import TypeVar

from brinebook.logs import places
from brinebook.planning.recompute import Changed

T = TypeVar("T")
Work = Callable[[str, Changed], None]
"""Computes what a change makes stale in one team; may raise."""
QUIET_S = 0.05
LONGEST_REST_S = 2.0
PLACES_TOLD = 4
_log = logging.getLogger("brinebook.jobs")


def joined(left: Changed, right: Changed) -> Changed:
    """Join two changes into one."""
    return Changed(
        subject_ids=left.subject_ids | right.subject_ids,
        kinds=left.kinds | right.kinds,
        stage_ids=left.stage_ids | right.stage_ids,
        edited_types=left.edited_types | right.edited_types,
    )


class RecomputeQueue:
    """One worker thread. A failed computation is logged without values and never touches the facts."""

    def __init__(self, work: Work, *, quiet_s: float = QUIET_S) -> None:
        self._work = work
        self._quiet_s = quiet_s
        self._pending: dict[str, Changed] = {}
        self._is_busy = False
        self._is_closed = False
        self._state = threading.Condition()
        self._planning = threading.RLock()
        self._thread = threading.Thread(target=self._run, name="recompute", daemon=True)

    def start(self) -> None:
        """Start working."""
        self._thread.start()

    def close(self) -> None:
        """Finish the running computation and stop; what is pending is computed again after the next start."""
        with self._state:
            self._is_closed = True
            self._state.notify_all()
        self._thread.join(timeout=30)

    def add(self, team_id: str, changed: Changed) -> None:
        """Ask for a recomputation; returns at once."""
        with self._state:
            known = self._pending.get(team_id)
            self._pending[team_id] = changed if known is None else joined(known, changed)
            self._state.notify_all()

    def exclusive(self, work: Callable[[], T]) -> T:
        """Run a planning use case while nothing else is being computed."""
        with self._planning:
            return work()

    def wait_until_idle(self, timeout_s: float) -> bool:
        """Wait until nothing is pending; tell whether that came true."""
        with self._state:
            return self._state.wait_for(lambda: not self._pending and not self._is_busy, timeout=timeout_s)

    def _take(self) -> dict[str, Changed]:
        with self._state:
            self._state.wait_for(lambda: bool(self._pending) or self._is_closed)
            if self._pending and not self._is_closed:
                self._state.wait_for(lambda: self._is_closed, timeout=self._quiet_s)
            taken, self._pending = ({}, {}) if self._is_closed else (self._pending, {})
            self._is_busy = bool(taken)
            return taken

    def _run(self) -> None:
        while taken := self._take():
            began = time.monotonic()
            for team_id, changed in taken.items():
                self._compute(team_id, changed)
            with self._state:
                self._is_busy = False
                self._state.notify_all()
            self._rest(time.monotonic() - began)

    def _rest(self, took_s: float) -> None:
        """In a flood, when more came in meanwhile, stand still for as long as the work took: facts come first."""
        with self._state:
            if self._pending:
                self._state.wait_for(lambda: self._is_closed, timeout=min(took_s, LONGEST_REST_S))

    def _compute(self, team_id: str, changed: Changed) -> None:
        try:
            with self._planning:
                self._work(team_id, changed)
        except Exception as problem:  # noqa: BLE001 a fact is never lost because a computation failed
            _log.error("recompute failed: %s", describe(problem))


def describe(problem: BaseException) -> str:
    """Name an exception and where it was raised, without its message: messages may carry health values."""
    return f"{type(problem).__name__} at {' > '.join(places(problem.__traceback__, PLACES_TOLD))}"
