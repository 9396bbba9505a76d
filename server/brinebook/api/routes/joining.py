"""Joining, invitations, and what a device may ask about itself."""


import segno
from litestar import Response, delete, get, post
from litestar.params import FromPath, RawBody
from msgspec import Struct

from brinebook import clock
from brinebook.access import invites, ledger, tokens
from brinebook.access.devices import SignedIn, devices_of_team, must_own, own_devices, revoke, rotate
from brinebook.access.errors import InviteUnusable
from brinebook.access.passkeys import must_show
from brinebook.access.roles import PLANNERS
from brinebook.api.answers import answer
from brinebook.api.auth import must_administer, must_bring_in, must_plan
from brinebook.api.handed import Asked, Running, origin_of
from brinebook.api.services import Services
from brinebook.records.common import Name
from brinebook.records.edited import Member, Rider, Team
from brinebook.sync.decode import decoded


class Joining(Struct, frozen=True, kw_only=True):
    """An invitation's secret, or its code as typed; ``is_shared``: others live on this phone, so it is for staff."""

    secret: str = ""
    code: str = ""
    device_name: Name = "phone"
    device_key: str = ""
    is_shared: bool = False


class Joined(Struct, frozen=True, kw_only=True):
    """Who this device now is."""

    token: str
    member: Member
    team: Team
    rider: Rider | None
    device_id: str


class Me(Struct, frozen=True, kw_only=True):
    """Who this device is."""

    member: Member
    team: Team
    rider: Rider | None
    device_id: str
    push_public_key: str


class NextToken(Struct, frozen=True, kw_only=True):
    """The token that takes over once it is used."""

    token: str


class InviteLink(Struct, frozen=True, kw_only=True):
    """An invitation, shown once; ``qr_rows`` is its link as a code, one text of 0 and 1 per row."""

    link: str
    code: str
    qr_rows: list[str]
    expires_at_ms: int
    member_id: str


def _rider(services: Services, who: SignedIn) -> Rider | None:
    rider_id = who.member.rider_id
    return None if rider_id is None else services.repository.edited(who.team_id, Rider, rider_id)


def joined(services: Services, who: SignedIn) -> Joined:
    """Tell a device that has just come in who it is."""
    team = services.repository.team(who.team_id)
    return Joined(token=who.token, member=who.member, team=team, rider=_rider(services, who), device_id=who.device.id)


@post("/api/join", status_code=200, sync_to_thread=True)
def join(body: RawBody, services: Running) -> Response[bytes]:
    """Turn an invitation into a device token."""
    wanted = decoded(body, Joining)
    services.attempts.check()
    try:
        who = invites.claim(
            services.repository, secret_or_code=wanted.secret or tokens.typed_code(wanted.code),
            device_name=wanted.device_name, device_key=wanted.device_key or clock.secret(),
            server_key=services.server_key, is_shared=wanted.is_shared,
        )
    except InviteUnusable:
        services.attempts.failed()
        raise
    ledger.note(services.repository, who.team_id, [ledger.did(who, "joined", about=who.member.id)])
    return answer(joined(services, who))


@get("/api/me", sync_to_thread=True)
def me(request: Asked, services: Running) -> Response[bytes]:
    """Tell a device who it is."""
    who = request.user
    team = services.repository.team(who.team_id)
    return answer(
        Me(
            member=who.member, team=team, rider=_rider(services, who), device_id=who.device.id,
            push_public_key=services.sender.public_key,
        ),
    )


@post("/api/invites", status_code=200, sync_to_thread=True)
def make_invite(request: Asked, body: RawBody, services: Running) -> Response[bytes]:
    """Invite a person."""
    must_plan(request.user)
    wanted = decoded(body, invites.Wanted)
    must_bring_in(request.user, invites.role_of(services.repository, request.user.team_id, wanted))
    if wanted.replaces_passkeys:
        must_administer(request.user)
        must_show(services.repository, request.user)
    made = invites.invite(services.repository, request.user.team_id, wanted)
    what = "replaces passkeys" if wanted.replaces_passkeys else ""
    invited = ledger.did(request.user, "invited", about=made.member_id, what=what)
    ledger.note(services.repository, request.user.team_id, [invited])
    link = f"{origin_of(request, services)}/#/join/{made.secret}"
    rows = ["".join("1" if cell else "0" for cell in row) for row in segno.make_qr(link, error="m").matrix]
    return answer(
        InviteLink(link=link, code=made.code, qr_rows=rows, expires_at_ms=made.expires_at_ms, member_id=made.member_id),
    )


@get("/api/invites", sync_to_thread=True)
def list_members(request: Asked, services: Running) -> Response[bytes]:
    """List the people who can be invited again."""
    must_plan(request.user)
    return answer(services.repository.members(request.user.team_id))


@get("/api/devices", sync_to_thread=True)
def list_devices(request: Asked, services: Running) -> Response[bytes]:
    """List the devices this person is signed in on."""
    return answer(own_devices(services.repository, request.user))


@delete("/api/devices/{device_id:str}", sync_to_thread=True)
def revoke_device(request: Asked, device_id: FromPath[str], services: Running) -> None:
    """Sign a device of one's own out, or, for those who plan, any of the team."""
    who = request.user
    if who.member.role not in PLANNERS:
        must_own(services.repository, who, device_id)
    revoked = revoke(services.repository, who.team_id, device_id)
    noted = ledger.did(who, "revoked", about=revoked.member_id, what=revoked.name)
    ledger.note(services.repository, who.team_id, [noted])
    services.live.look_again(who.team_id)


@get("/api/team/devices", sync_to_thread=True)
def team_devices(request: Asked, services: Running) -> Response[bytes]:
    """List the devices of the team."""
    must_plan(request.user)
    return answer(devices_of_team(services.repository, request.user))


@post("/api/me/token", status_code=200, sync_to_thread=True)
def next_token(request: Asked, services: Running) -> Response[bytes]:
    """Give this device another token; the present one ends when the new one is first used."""
    who = request.user
    made = rotate(services.repository, who)
    ledger.note(services.repository, who.team_id, [ledger.did(who, "rotated", about=who.member.id)])
    return answer(NextToken(token=made))


@get("/api/me/ledger", sync_to_thread=True)
def who_looked(request: Asked, services: Running) -> Response[bytes]:
    """Tell a person who looked at, took out, printed or changed what is his."""
    return answer(ledger.about_me(services.repository, request.user))
