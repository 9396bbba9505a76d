"""Watches the heads of teams whose screens are open, and tells each screen once when its head moved."""

import logging
import threading
from collections.abc import Callable, Iterable
from typing import Protocol

from brinebook.storage.errors import StorageError
from brinebook.storage.repository import Heads, Repository

POLL_S = 2.0
"""However news travel, a screen hears of a moved head within this."""
TELL_EVERY_S = 0.2
_log = logging.getLogger("brinebook.jobs")


class NewsChannel(Protocol):
    """Carries the names of teams from server to server."""

    def tell(self, team_ids: Iterable[str]) -> None:
        """Tell all listeners."""

    def heard(self, timeout_s: float) -> frozenset[str]:
        """Wait for news, at most so long."""

    def close(self) -> None:
        """Close it."""


class HeadWatch:
    """
    One thread looks at heads when somebody here moved them, when another server says so, and every 2 s anyway.

    ``heard`` names the teams that somebody listens to, ``tell`` tells them.
    """

    def __init__(
        self, repository: Repository, heard: Callable[[], frozenset[str]], tell: Callable[[str, int], None],
        channels: Callable[[], NewsChannel] | None = None,
    ) -> None:
        self._repository, self._heard, self._tell, self._channels = repository, heard, tell, channels
        self._known: dict[str, Heads] = {}
        self._told: set[str] = set()
        self._is_woken = threading.Event()
        self._has_news = threading.Event()
        self._is_closed = threading.Event()
        self._threads = [threading.Thread(target=self._watch, name="heads", daemon=True)]
        if channels is not None:
            self._threads += [
                threading.Thread(target=self._listen, name="heads-listen", daemon=True),
                threading.Thread(target=self._pass_on, name="heads-tell", daemon=True),
            ]

    def start(self) -> None:
        """Start watching."""
        for thread in self._threads:
            thread.start()

    def close(self) -> None:
        """Stop."""
        self._is_closed.set()
        self._is_woken.set()
        self._has_news.set()
        for thread in self._threads:
            if thread.is_alive():
                thread.join(timeout=10)

    def moved(self, team_id: str) -> None:
        """Say that a team's head may have moved; returns at once."""
        self._is_woken.set()
        if self._channels is not None:
            self._told.add(team_id)
            self._has_news.set()

    def look(self) -> None:
        """Tell every listened-to team whose head is not the one last told."""
        wanted = self._heard()
        heads = self._repository.all_heads() if wanted else {}
        for team_id in wanted & set(heads):
            if self._known.get(team_id) != heads[team_id]:
                self._tell(team_id, heads[team_id].events)
        self._known = {team_id: one for team_id, one in heads.items() if team_id in wanted}

    def _watch(self) -> None:
        while not self._is_closed.is_set():
            self._is_woken.wait(POLL_S)
            self._is_woken.clear()
            try:
                self.look()
            except StorageError:
                _log.warning("could not look at the heads; looking again")

    def _listen(self) -> None:
        channel = self._channels() if self._channels is not None else None
        while channel is not None and not self._is_closed.is_set():
            try:
                if channel.heard(POLL_S):
                    self._is_woken.set()
            except StorageError:
                self._is_closed.wait(POLL_S)
        if channel is not None:
            channel.close()

    def _pass_on(self) -> None:
        channel = self._channels() if self._channels is not None else None
        while channel is not None and not self._is_closed.is_set():
            self._has_news.wait()
            self._has_news.clear()
            # Several commits of a fifth of a second travel as one word.
            told, self._told = self._told, set()
            try:
                channel.tell(told)
            except StorageError:
                _log.warning("could not pass on that a head moved; others look by themselves")
            self._is_closed.wait(TELL_EVERY_S)
        if channel is not None:
            channel.close()
