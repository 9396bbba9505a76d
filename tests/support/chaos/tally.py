"""Counts shared by many threads."""

import threading
from collections import Counter


class Tally:
    """A counter that may be raised from any thread."""

    def __init__(self):
        self._lock = threading.Lock()
        self.counts: Counter[str] = Counter()

    def note(self, name: str, n: int = 1) -> None:
        """Raise one count."""
        with self._lock:
            self.counts[name] += n
