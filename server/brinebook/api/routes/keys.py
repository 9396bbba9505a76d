"""Keys: what signed-out devices handed in, and ending all of a person's devices at once."""

from typing import Literal

from litestar import Response, delete, get, post
from litestar.params import FromPath, RawBody
from msgspec import Struct

from brinebook.access import ledger
from brinebook.access.devices import end_all
from brinebook.access.passkeys import must_show
from brinebook.api.answers import answer
from brinebook.api.auth import must_administer, must_plan
from brinebook.api.handed import Asked, Running
from brinebook.sync.aside import decide, listed
from brinebook.sync.decode import decoded


class Decision(Struct, frozen=True, kw_only=True):
    """What becomes of an entry that stands aside."""

    act: Literal["kept", "left"]


@get("/api/team/aside", sync_to_thread=True)
def list_aside(request: Asked, services: Running) -> Response[bytes]:
    """List what signed-out devices handed in and nobody has decided on."""
    must_administer(request.user)
    must_show(services.repository, request.user)
    return answer(listed(services.repository, request.user))


@post("/api/team/aside/{entry_id:str}", status_code=200, sync_to_thread=True)
def decide_aside(request: Asked, entry_id: FromPath[str], body: RawBody, services: Running) -> Response[bytes]:
    """Keep an entry that stands aside, or leave it there for good."""
    must_administer(request.user)
    verdict, changed = decide(services.repository, request.user, entry_id, decoded(body, Decision).act)
    if changed.subject_ids:
        services.changed(request.user.team_id, changed)
    return answer(verdict)


@delete("/api/team/members/{member_id:str}/devices", sync_to_thread=True)
def end_devices(request: Asked, member_id: FromPath[str], services: Running) -> None:
    """Sign a person out everywhere but on the device that asks."""
    who = request.user
    must_plan(who)
    ended = end_all(services.repository, who, member_id)
    noted = [ledger.did(who, "revoked", about=member_id, what=one.name) for one in ended]
    ledger.note(services.repository, who.team_id, noted)
    services.live.look_again(who.team_id)
