"""Passkeys: making, using and forgetting them, and whether the team asks for them again."""

import msgspec
from litestar import Response, delete, get, post, put
from litestar.params import FromPath, RawBody
from msgspec import Raw, Struct

from brinebook.access import ledger, passkeys
from brinebook.access.errors import NotYours, PasskeyRefused
from brinebook.access.passkeys import VERIFIED_MINUTES
from brinebook.access.roles import STAFF
from brinebook.api.answers import JSON, answer
from brinebook.api.auth import must_administer
from brinebook.api.handed import Asked, Running, origin_of
from brinebook.api.routes.joining import joined
from brinebook.api.services import Services
from brinebook.records.common import Name
from brinebook.storage.errors import NotFound
from brinebook.sync.decode import decoded


class Registering(Struct, frozen=True, kw_only=True):
    """What the browser made, and how its owner calls it."""

    credential: Raw
    name: Name = "passkey"


class Showing(Struct, frozen=True, kw_only=True):
    """What the browser signed; ``device_name`` is for a new device."""

    credential: Raw
    device_name: Name = "phone"


class OwnPasskey(Struct, frozen=True, kw_only=True):
    """A passkey as its owner sees it."""

    id: str
    name: str
    made_at_ms: int
    used_at_ms: int


class OwnPasskeys(Struct, frozen=True, kw_only=True):
    """A person's passkeys, and whether the team asks for them again before others' bodies are read."""

    passkeys: list[OwnPasskey]
    is_step_up_asked: bool
    fresh_minutes: int = VERIFIED_MINUTES


class StepUp(Struct, frozen=True, kw_only=True):
    """Whether the team asks those who have a passkey for it before others' bodies are read."""

    is_asked: bool


def _site(request: Asked, services: Services) -> passkeys.Site:
    return passkeys.Site(origin=origin_of(request, services), server_key=services.server_key)


def _must_be_staff(request: Asked) -> None:
    if request.user.member.role not in STAFF:
        raise NotYours("role", request.user.member.role)


@get("/api/me/passkeys", sync_to_thread=True)
def list_passkeys(request: Asked, services: Running) -> Response[bytes]:
    """List the person's passkeys."""
    _must_be_staff(request)
    who = request.user
    found = services.repository.passkeys_of(who.team_id, who.member.id)
    team = services.repository.team(who.team_id)
    return answer(OwnPasskeys(
        passkeys=[
            OwnPasskey(id=one.id, name=one.name, made_at_ms=one.made_at_ms, used_at_ms=one.used_at_ms) for one in found
        ],
        is_step_up_asked=team.is_step_up_asked,
    ))


@post("/api/me/passkeys/options", status_code=200, sync_to_thread=True)
def register_options(request: Asked, services: Running) -> Response[bytes]:
    """Give what a browser needs to make a passkey."""
    _must_be_staff(request)
    told = passkeys.register_options(services.repository, _site(request, services), request.user)
    return Response(told.encode(), media_type=JSON)


@post("/api/me/passkeys", status_code=200, sync_to_thread=True)
def register_passkey(request: Asked, body: RawBody, services: Running) -> Response[bytes]:
    """Keep a passkey."""
    _must_be_staff(request)
    who, wanted = request.user, decoded(body, Registering)
    made = passkeys.register(
        services.repository, _site(request, services), who, bytes(wanted.credential), wanted.name,
    )
    ledger.note(services.repository, who.team_id, [ledger.did(who, "passkey_added", about=who.member.id)])
    return answer(OwnPasskey(id=made.id, name=made.name, made_at_ms=made.made_at_ms, used_at_ms=made.used_at_ms))


@delete("/api/me/passkeys/{passkey_id:str}", sync_to_thread=True)
def forget_passkey(request: Asked, passkey_id: FromPath[str], services: Running) -> None:
    """Forget one of the person's passkeys, once he has shown that he is himself."""
    _must_be_staff(request)
    who = request.user
    passkeys.must_be_fresh(who)
    if services.repository.delete_passkeys(who.team_id, who.member.id, passkey_id) == 0:
        raise NotFound("passkey", passkey_id)
    ledger.note(services.repository, who.team_id, [ledger.did(who, "passkey_removed", about=who.member.id)])


@post("/api/me/verify/options", status_code=200, sync_to_thread=True)
def verify_options(request: Asked, services: Running) -> Response[bytes]:
    """Give what a browser needs to show that the person himself holds it."""
    told = passkeys.options(services.repository, _site(request, services), request.user)
    return Response(told.encode(), media_type=JSON)


@post("/api/me/verify", sync_to_thread=True, status_code=204)
def verify(request: Asked, body: RawBody, services: Running) -> None:
    """Take what the browser signed as showing who holds it."""
    wanted = decoded(body, Showing)
    passkeys.verify(services.repository, _site(request, services), request.user, bytes(wanted.credential))


@post("/api/passkeys/options", status_code=200, sync_to_thread=True)
def sign_in_options(request: Asked, services: Running) -> Response[bytes]:
    """Give what a browser needs to sign somebody in."""
    told = passkeys.options(services.repository, _site(request, services), None)
    return Response(told.encode(), media_type=JSON)


@post("/api/passkeys/sign-in", status_code=200, sync_to_thread=True)
def sign_in(request: Asked, body: RawBody, services: Running) -> Response[bytes]:
    """Sign a person in on a new device."""
    wanted = decoded(body, Showing)
    services.attempts.check()
    try:
        site = _site(request, services)
        who = passkeys.sign_in(services.repository, site, bytes(wanted.credential), wanted.device_name)
    except PasskeyRefused:
        services.attempts.failed()
        raise
    ledger.note(services.repository, who.team_id, [ledger.did(who, "joined", about=who.member.id, what="passkey")])
    return answer(joined(services, who))


@put("/api/team/step-up", sync_to_thread=True, status_code=204)
def put_step_up(request: Asked, body: RawBody, services: Running) -> None:
    """Set whether the team asks for passkeys again. Whoever has one shows it before he lifts the rule."""
    must_administer(request.user)
    who, repository = request.user, services.repository
    wanted = decoded(body, StepUp)
    with repository.transaction():
        repository.hold(who.team_id)
        if repository.passkeys_of(who.team_id, who.member.id):
            passkeys.must_show(repository, who)
        team = repository.team(who.team_id)
        changed = msgspec.structs.replace(team, version=team.version + 1, is_step_up_asked=wanted.is_asked)
        repository.put_edited(who.team_id, changed)
    services.heads.moved(who.team_id)
