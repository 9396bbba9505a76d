"""The running server and its end: not ready, streams over, a moment for proxies, then what is asked is finished."""

import asyncio
import signal
import socket
from types import FrameType

import uvicorn

from brinebook.api.services import Services

FINISH_WITHIN_S = 8
"""Requests that began before the end have so long; what is cut off was not acknowledged, and phones send it again."""


class Server(uvicorn.Server):
    """
    Leaves in order when told to by SIGTERM or SIGINT, and then ends with exit code 0.

    First ``/api/ready`` answers 503 and live streams end; after ``drain_s``, in which a proxy finds that out, nothing
    new is taken; then what is under way is finished. Told twice, it does not wait.
    """

    def __init__(self, config: uvicorn.Config, services: Services, *, drain_s: float) -> None:
        super().__init__(config)
        self._services, self._drain_s = services, drain_s
        self._loop: asyncio.AbstractEventLoop | None = None
        self._is_leaving = False

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start, and remember the loop that signals are handed to."""
        self._loop = asyncio.get_running_loop()
        await super().startup(sockets)

    def handle_exit(self, sig: int, _frame: FrameType | None) -> None:
        """Begin to leave. The library would raise the signal again at the end and so skip what closes the store."""
        if self._is_leaving or self._loop is None:
            self.force_exit = self.should_exit and sig == signal.SIGINT
            self.should_exit = True
            return
        self._is_leaving = True
        # A handler may interrupt whoever holds a lock, so the work is done by the loop.
        self._loop.call_soon_threadsafe(self._leave, self._loop)

    def _leave(self, loop: asyncio.AbstractEventLoop) -> None:
        self._services.is_staying.clear()
        self._services.live.close()
        loop.call_later(self._drain_s, self._stop)

    def _stop(self) -> None:
        self.should_exit = True
