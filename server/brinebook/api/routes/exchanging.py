"""The exchange, the live head, health."""

from collections.abc import AsyncIterator
from time import monotonic
from typing import Literal

from anyio import to_thread
from litestar import MediaType, Response, get, post
from litestar.params import FromQuery, RawBody
from litestar.response import ServerSentEvent, ServerSentEventMessage
from msgspec import Struct

from brinebook import __version__
from brinebook.access.devices import is_still_signed_in
from brinebook.api.answers import answer
from brinebook.api.handed import Asked, Running
from brinebook.api.live import ALIVE_S
from brinebook.api.packed import unpacked
from brinebook.records.wire import ExchangeRequest
from brinebook.sync.decode import decoded
from brinebook.sync.exchange import exchange

WAIT_LIMIT_S = 300.0


class Health(Struct, frozen=True, kw_only=True):
    """Whether the server answers, and whether it has computed all it was told."""

    status: str
    version: str
    is_computed: bool


@post("/api/exchange", status_code=200, sync_to_thread=True)
def exchange_route(request: Asked, body: RawBody, services: Running) -> Response[bytes]:
    """Run one exchange."""
    wanted = decoded(unpacked(body, request.headers.get("content-encoding", "")), ExchangeRequest)
    return answer(exchange(services.repository, request.user, wanted, on_changed=services.changed))


@get("/api/live", media_type=MediaType.TEXT)
async def live(request: Asked, services: Running) -> ServerSentEvent:
    """Stream the head of the team's sequence, as long as this device may listen."""
    who, told_at = request.user, monotonic()
    first = await to_thread.run_sync(services.repository.head, who.team_id)

    async def messages() -> AsyncIterator[ServerSentEventMessage]:
        nonlocal told_at
        async for head in services.live.heads(who.team_id, first):
            if not await to_thread.run_sync(is_still_signed_in, services.repository, who):
                return
            if head is not None:
                yield ServerSentEventMessage(event="head", data=f'{{"head":{head}}}')
            elif monotonic() - told_at < ALIVE_S:
                continue
            else:
                yield ServerSentEventMessage(comment="alive")
            told_at = monotonic()

    return ServerSentEvent(messages())


@get("/api/health", sync_to_thread=True)
def health(services: Running, wait: FromQuery[Literal["", "recompute"]] = "") -> Response[bytes]:
    """Tell that the server answers; with ``wait=recompute`` only once all is computed."""
    is_computed = services.recompute.wait_until_idle(WAIT_LIMIT_S if wait == "recompute" else 0.0)
    return answer(Health(status="ok", version=__version__, is_computed=is_computed))
