"""Headers on every answer."""

from litestar.types import Message, Scope

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


async def add_headers(message: Message, scope: Scope) -> None:
    """Add the security headers; what the API says is never kept in a cache."""
    if message["type"] != "http.response.start":
        return
    headers = dict(EVERYWHERE)
    if scope["path"].startswith("/api"):
        headers["cache-control"] = "no-store"
    kept = [(name, value) for name, value in message["headers"] if name.decode().lower() not in headers]
    message["headers"] = [*kept, *((name.encode(), value.encode()) for name, value in headers.items())]
