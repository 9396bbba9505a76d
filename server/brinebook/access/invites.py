"""Invitations: single use, 24 hours, claimed inside the installed app; a lost reply is forgiven for 30 minutes."""

import msgspec
from msgspec import Struct

from brinebook import clock
from brinebook.access import devices, tokens
from brinebook.access.errors import InviteImpossible, InviteUnusable, PasskeyNeeded, RiderAlone
from brinebook.records.common import Id, Name, Role
from brinebook.records.edited import Member, Rider
from brinebook.storage.errors import NotFound
from brinebook.storage.repository import Invite, Repository

LIFE_MS = 24 * 3_600_000
FORGIVEN_MS = 30 * 60_000
FACE_TO_FACE_MS = 15 * 60_000
SECRET_BYTES = 16


class Invited(Struct, frozen=True, kw_only=True):
    """A new invitation with its secret, shown once."""

    secret: str
    code: str
    expires_at_ms: int
    member_id: str


class Wanted(Struct, frozen=True, kw_only=True):
    """Whom to invite: a new person, or with ``member_id`` a new device of a known one."""

    name: Name = "?"
    role: Role = "rider"
    rider_id: Id | None = None
    member_id: Id | None = None
    replaces_passkeys: bool = False
    """For somebody whose passkeys are lost: an admin's to give, face to face, so it lasts minutes."""


def _member(repository: Repository, team_id: str, wanted: Wanted) -> Member:
    if wanted.member_id is not None:
        return repository.member(team_id, wanted.member_id)
    if wanted.role != "rider":
        return Member(id=clock.new_id(), version=1, name=wanted.name, role=wanted.role)
    for known in repository.members(team_id):
        if known.rider_id is not None and known.rider_id == wanted.rider_id:
            return known
    rider = repository.edited(team_id, Rider, wanted.rider_id) if wanted.rider_id else None
    if rider is None:
        raise InviteImpossible("rider_id", wanted.rider_id or "", "the id of a rider of this team")
    return Member(id=clock.new_id(), version=1, name=rider.name, role="rider", rider_id=rider.id)


def role_of(repository: Repository, team_id: str, wanted: Wanted) -> Role:
    """Tell which role an invitation brings in."""
    return wanted.role if wanted.member_id is None else repository.member(team_id, wanted.member_id).role


def invite(repository: Repository, team_id: str, wanted: Wanted) -> Invited:
    """Make an invitation."""
    secret, code = clock.secret(SECRET_BYTES), tokens.code()
    code_sha = tokens.code_sha(code, repository.seal_key())
    expires_at_ms = clock.now_ms() + (FACE_TO_FACE_MS if wanted.replaces_passkeys else LIFE_MS)
    with repository.transaction():
        repository.hold(team_id)
        member = _member(repository, team_id, wanted)
        repository.put_member(team_id, member)
        made = Invite(
            id=clock.new_id(), team_id=team_id, member_id=member.id, secret_sha=tokens.sha(secret),
            code_sha=code_sha, expires_at_ms=expires_at_ms, replaces_passkeys=wanted.replaces_passkeys,
        )
        repository.put_invite(made)
    return Invited(secret=secret, code=code, expires_at_ms=expires_at_ms, member_id=member.id)


def _is_usable(found: Invite, key_sha: str, now_ms: int) -> bool:
    if found.claimed_at_ms is None:
        return now_ms < found.expires_at_ms
    return found.claimed_key_sha == key_sha and now_ms < found.claimed_at_ms + FORGIVEN_MS


def _kept_form(repository: Repository, secret_or_code: str) -> str:
    if len(secret_or_code) == tokens.CODE_LENGTH:
        return tokens.code_sha(secret_or_code, repository.seal_key())
    return tokens.sha(secret_or_code)


def _held_invite(repository: Repository, sha: str) -> Invite | None:
    """Read an invitation that nobody else can claim at the same time."""
    found = repository.invite_by_hash(sha)
    if found is None:
        return None
    repository.hold(found.team_id)
    return repository.invite_by_hash(sha)


def _pass_by_passkey(repository: Repository, found: Invite, member: Member) -> None:
    """Let nobody pass by the passkeys of the person invited, unless they are lost and an admin said so."""
    if found.replaces_passkeys:
        repository.delete_passkeys(found.team_id, member.id)
    elif repository.team(found.team_id).is_step_up_asked and repository.passkeys_of(found.team_id, member.id):
        raise PasskeyNeeded


def claim(
    repository: Repository, *, secret_or_code: str, device_name: str, device_key: str, server_key: bytes,
    is_shared: bool = False,
) -> devices.SignedIn:
    """
    Use an invitation once; the same device may repeat it while a lost reply is forgiven.

    A rider's is refused, and stays good, on a phone that staff share (``is_shared``): what he feels is his to note.
    Where the team asks for passkeys, a person who has one brings a new device in by it: ``PasskeyNeeded`` then, and the
    invitation stays good. One that replaces passkeys ends those he had.
    """
    now_ms = clock.now_ms()
    key_sha, shown_sha = tokens.sha(device_key), _kept_form(repository, secret_or_code)
    with repository.transaction():
        found = _held_invite(repository, shown_sha)
        if found is None or not _is_usable(found, key_sha, now_ms):
            raise InviteUnusable
        token = tokens.device_token(server_key, found.id, device_key)
        try:
            member = repository.member(found.team_id, found.member_id)
        except NotFound as problem:
            raise InviteUnusable from problem
        if is_shared and member.role == "rider":
            raise RiderAlone
        if found.claimed_at_ms is None:
            _pass_by_passkey(repository, found, member)
        device = devices.new_device(
            found.team_id, member, token=token, name=device_name, now_ms=now_ms, id_=found.device_id,
        )
        repository.put_device(device)
        claimed = msgspec.structs.replace(
            found, claimed_at_ms=found.claimed_at_ms or now_ms, claimed_key_sha=key_sha, device_id=device.id,
        )
        repository.put_invite(claimed)
    return devices.SignedIn(token=token, device=device, member=member)
