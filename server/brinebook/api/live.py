"""Live updates: open screens hear the head of their team's sequence, nothing else."""

import asyncio
import threading
from collections.abc import AsyncIterator

ALIVE_S = 25.0


class LiveHub:
    """Passes heads from any thread to the streams of a team; a slow stream only ever misses old heads."""

    def __init__(self) -> None:
        self._streams: dict[str, set[tuple[asyncio.AbstractEventLoop, asyncio.Queue[int]]]] = {}
        self._lock = threading.Lock()

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
        """Give the present head, then each new one; None when there was none for a while."""
        heads: asyncio.Queue[int] = asyncio.Queue(maxsize=1)
        stream = (asyncio.get_running_loop(), heads)
        with self._lock:
            self._streams.setdefault(team_id, set()).add(stream)
        try:
            yield first
            while True:
                try:
                    yield await asyncio.wait_for(heads.get(), timeout=ALIVE_S)
                except TimeoutError:
                    yield None
        finally:
            with self._lock:
                self._streams[team_id].discard(stream)


def _replace(heads: asyncio.Queue[int], head: int) -> None:
    if heads.full():
        heads.get_nowait()
    heads.put_nowait(head)
