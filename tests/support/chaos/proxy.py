"""A network that cuts, loses, doubles, delays, reorders and lies: one request per connection, one fate per request."""

import asyncio
import random
import threading
from collections.abc import Mapping
from contextlib import suppress

from support.chaos.tally import Tally

LATE_S = (0.2, 2.0)
DELAY_S = (0.02, 0.4)
UPSTREAM_LIMIT_S = 8.0
FATES = {
    "request lost": 3, "request cut": 5, "request late": 4, "request doubled": 6, "reply lost": 7, "reply cut": 5,
    "delayed": 4, "answered 401": 1, "answered 503": 1, "answered nonsense": 1,
}
"""How often each fault happens to a request, in hundredths."""
NETWORK_ONLY = {name: share for name, share in FATES.items() if not name.startswith("answered")}
STRANGE = {
    "answered 401": b"HTTP/1.1 401 Unauthorized\r\nContent-Type: application/json\r\nConnection: close\r\n\r\n{}",
    "answered 503": b"HTTP/1.1 503 Busy\r\nRetry-After: 1\r\nConnection: close\r\n\r\n{}",
    "answered nonsense": b"HTTP/1.1 200 OK\r\nContent-Type: text/html\r\nConnection: close\r\n\r\n<p>Room number?",
}


async def _request(reader: asyncio.StreamReader) -> bytes:
    head = await reader.readuntil(b"\r\n\r\n")
    length = 0
    for line in head.split(b"\r\n"):
        name, _, value = line.partition(b":")
        if name.lower() == b"content-length":
            length = int(value)
    return head + await reader.readexactly(length)


class Proxy:
    """Stands between phones and the server. ``is_hostile`` off, it only forwards."""

    def __init__(self, upstream_port: int, tally: Tally, *, seed: int, fates: Mapping[str, int] = FATES):
        self.upstream_port, self.tally, self.fates = upstream_port, tally, fates
        self.random = random.Random(seed)  # noqa: S311 a seeded order, no secret
        self.is_hostile = False
        self.port = 0
        self._late: set[asyncio.Task[None]] = set()
        self._ready = threading.Event()
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()
        self._ready.wait(10)

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        server = self._loop.run_until_complete(asyncio.start_server(self._serve, "127.0.0.1", 0, backlog=1024))
        self.port = server.sockets[0].getsockname()[1]
        self._ready.set()
        self._loop.run_forever()
        server.close()
        for task in asyncio.all_tasks(self._loop):
            task.cancel()
        self._loop.run_until_complete(asyncio.sleep(0.05))
        self._loop.close()

    def close(self) -> None:
        """Stop listening."""
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(timeout=10)

    def _fate(self) -> str:
        if not self.is_hostile:
            return ""
        drawn = self.random.randrange(100)
        for name, share in self.fates.items():
            if drawn < share:
                self.tally.note(name)
                return name
            drawn -= share
        return ""

    async def _forward(self, request: bytes) -> bytes:
        reader, writer = await asyncio.open_connection("127.0.0.1", self.upstream_port)
        try:
            writer.write(request)
            await writer.drain()
            return await asyncio.wait_for(reader.read(-1), UPSTREAM_LIMIT_S)
        finally:
            writer.close()

    async def _cut(self, request: bytes) -> None:
        _, writer = await asyncio.open_connection("127.0.0.1", self.upstream_port)
        writer.write(request[: self.random.randrange(1, len(request))])
        with suppress(OSError):
            await writer.drain()
        writer.transport.abort()

    async def _deliver_late(self, request: bytes) -> None:
        await asyncio.sleep(self.random.uniform(*LATE_S))
        with suppress(OSError, TimeoutError):
            await self._forward(request)

    async def _answer(self, request: bytes) -> bytes:
        fate = self._fate()
        if fate in STRANGE:
            return STRANGE[fate]
        if fate == "request late":
            task = asyncio.ensure_future(self._deliver_late(request))
            self._late.add(task)
            task.add_done_callback(self._late.discard)
        if fate == "request cut":
            await self._cut(request)
        if fate in {"request lost", "request late", "request cut"}:
            return b""
        if fate == "delayed":
            await asyncio.sleep(self.random.uniform(*DELAY_S))
        if fate == "request doubled":
            await self._forward(request)
        reply = await self._forward(request)
        if fate == "reply lost":
            return b""
        return reply[: self.random.randrange(len(reply) + 1)] if fate == "reply cut" else reply

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        try:
            reply = await self._answer(await _request(reader))
            if reply:
                writer.write(reply)
                await writer.drain()
        except (OSError, TimeoutError, asyncio.IncompleteReadError, asyncio.CancelledError):
            pass
        finally:
            with suppress(OSError, RuntimeError):
                writer.close()
