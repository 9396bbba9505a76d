"""Where a device wants to be woken."""

from typing import Annotated

from litestar import Response, delete, post
from litestar.params import RawBody
from msgspec import Meta, Struct

from brinebook.api.answers import answer
from brinebook.api.handed import Asked, Running
from brinebook.push.sender import checked_endpoint
from brinebook.storage.repository import Subscription
from brinebook.sync.decode import decoded

Key = Annotated[str, Meta(min_length=16, max_length=200, pattern=r"^[A-Za-z0-9_=-]+$")]


class Keys(Struct, frozen=True, kw_only=True):
    """The device's public key and shared secret."""

    p256dh: Key
    auth: Key


class Subscribing(Struct, frozen=True, kw_only=True):
    """A push subscription as browsers give it."""

    endpoint: Annotated[str, Meta(max_length=1000)]
    keys: Keys


class Subscribed(Struct, frozen=True, kw_only=True):
    """The address is kept."""

    status: str = "ok"


@post("/api/push-subscription", status_code=200, sync_to_thread=True)
def subscribe(request: Asked, body: RawBody, services: Running) -> Response[bytes]:
    """Keep this device's wake-up address."""
    wanted = decoded(body, Subscribing)
    who = request.user
    services.repository.put_subscription(
        Subscription(
            device_id=who.device.id, team_id=who.team_id, member_id=who.member.id, role=who.member.role,
            rider_id=who.member.rider_id, endpoint=checked_endpoint(wanted.endpoint), p256dh=wanted.keys.p256dh,
            auth=wanted.keys.auth,
        ),
    )
    return answer(Subscribed())


@delete("/api/push-subscription", sync_to_thread=True)
def unsubscribe(request: Asked, services: Running) -> None:
    """Forget this device's wake-up address."""
    services.repository.delete_subscription(request.user.team_id, request.user.device.id)
