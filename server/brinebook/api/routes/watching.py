"""For whoever watches the server: figures, and whether it is ready to be sent requests."""

import hmac
import shutil
from typing import Any

from litestar import Request, Response, get
from msgspec import Struct

from brinebook.access.errors import NotSignedIn
from brinebook.api.answers import answer
from brinebook.api.auth import BEARER
from brinebook.api.handed import Running
from brinebook.storage.errors import StorageError

LOOPBACK = frozenset({"127.0.0.1", "::1"})
PASSED_ON = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip", "via")
LEAST_FREE_BYTES = 50_000_000
TEXT = "text/plain; version=0.0.4; charset=utf-8"


class Ready(Struct, frozen=True, kw_only=True):
    """Whether requests may be sent here, and what stands in the way."""

    status: str
    is_database_answering: bool
    has_room: bool
    is_staying: bool


def may_watch(request: Request[Any, Any, Any], token: str) -> bool:
    """Let pass who holds the token; without a token, only this machine itself and nothing a proxy passes on."""
    if token:
        given = request.headers.get("authorization", "").removeprefix(BEARER).strip()
        return hmac.compare_digest(given.encode(), token.encode())
    is_here = request.client is not None and request.client.host in LOOPBACK
    return is_here and not any(name in request.headers for name in PASSED_ON)


@get("/metrics", sync_to_thread=True)
def metrics(request: Request[Any, Any, Any], services: Running) -> Response[bytes]:
    """Give figures without names."""
    if not may_watch(request, services.settings.metrics_token):
        raise NotSignedIn
    return Response(services.gauges.text(), media_type=TEXT)


@get("/api/ready", sync_to_thread=True)
def ready(services: Running) -> Response[bytes]:
    """Tell whether requests may be sent here; ``/api/health`` only tells that the process answers."""
    try:
        services.repository.team_ids()
        is_answering = True
    except StorageError:
        is_answering = False
    has_room = shutil.disk_usage(services.settings.data).free >= LEAST_FREE_BYTES
    is_ready = is_answering and has_room and services.is_staying.is_set()
    told = Ready(
        status="ready" if is_ready else "not_ready", is_database_answering=is_answering, has_room=has_room,
        is_staying=services.is_staying.is_set(),
    )
    return answer(told, status=200 if is_ready else 503)
