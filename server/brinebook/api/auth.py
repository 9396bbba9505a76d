"""Who is asking: a bearer token, checked on each request. What is not said to be open is closed."""

from typing import Any

from anyio import to_thread
from litestar.connection import ASGIConnection
from litestar.middleware import AbstractAuthenticationMiddleware, AuthenticationResult

from brinebook.access.devices import SignedIn, signed_in
from brinebook.access.disclosure import may_edit
from brinebook.access.errors import DeviceRevoked, NotSignedIn, NotYours
from brinebook.access.roles import GUARDED, PLANNERS
from brinebook.api.services import Services
from brinebook.records.common import Role
from brinebook.records.edited import Edited
from brinebook.storage.mapping import TYPE_NAMES

BEARER = "Bearer "
EXCHANGE_PATH = "/api/exchange"
"""A revoked device is let in here alone: its last entries are kept aside, then it is refused."""


class BearerMiddleware(AbstractAuthenticationMiddleware):
    """Puts the signed-in person into ``request.user``."""

    async def authenticate_request(
        self, connection: ASGIConnection[Any, Any, Any, Any],
    ) -> AuthenticationResult:
        """Find the person by token, in a worker thread: it reads the database."""
        header = connection.headers.get("authorization", "")
        if not header.startswith(BEARER):
            raise NotSignedIn
        services: Services = connection.app.state.services
        token = header.removeprefix(BEARER).strip()
        who = await to_thread.run_sync(signed_in, services.repository, token)
        if who.device.is_revoked and connection.scope["path"] != EXCHANGE_PATH:
            raise DeviceRevoked
        return AuthenticationResult(user=who, auth=None)


def must_plan(who: SignedIn) -> None:
    """Let pass only those who edit records and plans."""
    if who.member.role not in PLANNERS:
        raise NotYours("role", who.member.role)


def must_bring_in(who: SignedIn, role: Role) -> None:
    """Let pass only those who may invite somebody of this role."""
    must_plan(who)
    if role in GUARDED:
        must_administer(who)


def must_administer(who: SignedIn) -> None:
    """Let pass admins only."""
    if who.member.role != "admin":
        raise NotYours("role", who.member.role)


def must_edit(who: SignedIn, record: Edited) -> None:
    """Let pass those who may keep this record."""
    if not may_edit(who.member, TYPE_NAMES[type(record)], record.id):
        raise NotYours("role", who.member.role)
