"""Slows down guessing of invitation codes."""

import threading
from collections import deque

from brinebook import clock
from brinebook.access.errors import TooManyAttempts

WINDOW_MS = 60_000
MAX_FAILURES = 20


class Attempts:
    """Counts recent failures of the whole process, which no change of address can reset."""

    def __init__(self) -> None:
        self._failed_at_ms: deque[int] = deque()
        self._lock = threading.Lock()

    def check(self) -> None:
        """Refuse while there were too many failures of late."""
        with self._lock:
            now_ms = clock.now_ms()
            while self._failed_at_ms and self._failed_at_ms[0] < now_ms - WINDOW_MS:
                self._failed_at_ms.popleft()
            if len(self._failed_at_ms) >= MAX_FAILURES:
                raise TooManyAttempts((self._failed_at_ms[0] + WINDOW_MS - now_ms) // 1000 + 1)

    def failed(self) -> None:
        """Note one failure."""
        with self._lock:
            self._failed_at_ms.append(clock.now_ms())
