"""Headers on every answer."""

from typing import cast

from litestar import Litestar
from litestar.routes import HTTPRoute
from litestar.types import HTTPScope, Message, Scope

CONTENT_SECURITY_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self' data: blob:; "
    "connect-src 'self'; manifest-src 'self'; worker-src 'self'; object-src 'none'; base-uri 'none'; "
    "form-action 'self'; frame-ancestors 'none'; require-trusted-types-for 'script'; trusted-types road-worker"
)
EVERYWHERE = {
    "content-security-policy": CONTENT_SECURITY_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "geolocation=(self), camera=(self), screen-wake-lock=(self), microphone=()",
    "strict-transport-security": "max-age=31536000; includeSubDomains",
}


METHOD_NOT_ALLOWED = 405


def allowed(app: Litestar, path: str) -> str:
    """Name the methods a path answers to (RFC 9110, 10.2.1), whichever handlers share it."""
    parts = [part for part in path.split("/") if part]
    found = [
        (sum(isinstance(place, str) for place in route.path_components), sorted(route.methods))
        for route in app.routes if isinstance(route, HTTPRoute) and _fits(route, parts)
    ]
    nearest = max((n_words for n_words, _ in found), default=0)
    return ", ".join(sorted({method for n_words, methods in found if n_words == nearest for method in methods}))


def _fits(route: HTTPRoute, parts: list[str]) -> bool:
    places = route.path_components
    return len(places) == len(parts) and all(
        place == part or not isinstance(place, str) for place, part in zip(places, parts, strict=True)
    )


async def add_headers(message: Message, scope: Scope) -> None:
    """Add the security headers; what the API says is never kept in a cache."""
    if message["type"] != "http.response.start":
        return
    headers, method = dict(EVERYWHERE), cast("HTTPScope", scope)["method"]
    if scope["path"].startswith("/api"):
        headers["cache-control"] = "no-store"
    if method == "OPTIONS" or message["status"] == METHOD_NOT_ALLOWED:
        headers["allow"] = allowed(scope["litestar_app"], scope["path"])
    kept = [(name, value) for name, value in message["headers"] if name.decode().lower() not in headers]
    message["headers"] = [*kept, *((name.encode(), value.encode()) for name, value in headers.items())]
