"""Carries out by itself what was promised: erasures whose days of grace are over, and the months facts are kept."""

import logging
import threading
from collections.abc import Callable
from pathlib import Path

from brinebook import clock
from brinebook.access.devices import DAY_MS
from brinebook.storage.errors import StorageError
from brinebook.storage.repository import Repository
from brinebook.sync import keeping
from brinebook.sync.errors import SyncError

FIRST_AFTER_S = 60.0
EVERY_S = 3600.0
_log = logging.getLogger("brinebook.jobs")


def keep(repository: Repository, data: Path, changed: Callable[[str], None], *, is_retaining: bool) -> list[str]:
    """Erase and let go of what is due; ``changed`` hears of each team to be computed again. Return those teams."""
    now_ms = clock.now_ms()
    found = {one.team_id for one in keeping.erase_due(repository, data, now_ms=now_ms)}
    try:
        if is_retaining:
            found |= {one.team_id for one in keeping.retain(repository, data, now_ms=now_ms, is_dry=False)}
    finally:
        for team_id in sorted(found):
            changed(team_id)
        if found:
            repository.scrub()
    return sorted(found)


class Keeper:
    """One thread that looks every hour, and once a day at the age of facts. What fails is tried again the next time."""

    def __init__(self, repository: Repository, data: Path, changed: Callable[[str], None]) -> None:
        self._repository = repository
        self._data = data
        self._changed = changed
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="keeper", daemon=True)

    def start(self) -> None:
        """Start looking."""
        self._thread.start()

    def close(self) -> None:
        """Stop; what is due is found again at the next start."""
        self._stop.set()
        self._thread.join(timeout=30)

    def _run(self) -> None:
        wait_s, retained_on = FIRST_AFTER_S, -1
        while not self._stop.wait(wait_s):
            wait_s, today = EVERY_S, clock.now_ms() // DAY_MS
            try:
                keep(self._repository, self._data, self._changed, is_retaining=retained_on != today)
                retained_on = today
            except (StorageError, SyncError, OSError) as problem:
                _log.warning("what is due was not let go of: %s", type(problem).__name__)
