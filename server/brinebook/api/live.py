"""Live updates: open screens hear the head of their team's sequence, nothing else."""

import asyncio
import threading
from collections.abc import AsyncIterator

ALIVE_S = 25.0
LOOK_S = 5.0
"""So often a stream at rest looks whether its listener may still listen."""
ENDED, UNCHANGED = -1, -2


class LiveHub:
    """Passes heads from any thread to the streams of a team; a slow stream only ever misses old heads."""

    def __init__(self) -> None:
        self._streams: dict[str, set[tuple[asyncio.AbstractEventLoop, asyncio.Queue[int]]]] = {}
        self._lock = threading.Lock()
        self._is_closed = False

    def close(self) -> None:
        """End all streams, and those still to come: the server is about to stop."""
        self._is_closed = True
        for team_id in self.heard():
            self.tell(team_id, ENDED)

    def look_again(self, team_id: str) -> None:
        """Have the streams of a team look at once whether their listeners may still listen."""
        self.tell(team_id, UNCHANGED)

    def heard(self) -> frozenset[str]:
        """Name the teams that somebody listens to."""
        with self._lock:
            return frozenset(team_id for team_id, streams in self._streams.items() if streams)

    def tell(self, team_id: str, head: int) -> None:
        """Tell all streams of a team."""
        with self._lock:
            streams = list(self._streams.get(team_id, ()))
        for loop, heads in streams:
            if not loop.is_closed():
                loop.call_soon_threadsafe(_replace, heads, head)

    async def heads(self, team_id: str, first: int) -> AsyncIterator[int | None]:
        """Give the present head, then each new one; None when there was none for ``LOOK_S``. Ends with the hub."""
        heads: asyncio.Queue[int] = asyncio.Queue(maxsize=1)
        stream = (asyncio.get_running_loop(), heads)
        with self._lock:
            self._streams.setdefault(team_id, set()).add(stream)
        try:
            head: int | None = first
            while not self._is_closed and head != ENDED:
                yield None if head == UNCHANGED else head
                try:
                    head = await asyncio.wait_for(heads.get(), timeout=LOOK_S)
                except TimeoutError:
                    head = None
        finally:
            with self._lock:
                self._streams[team_id].discard(stream)


def _replace(heads: asyncio.Queue[int], head: int) -> None:
    waiting = heads.get_nowait() if heads.full() else UNCHANGED
    if waiting == ENDED or head == UNCHANGED:
        head = waiting
    heads.put_nowait(head)
