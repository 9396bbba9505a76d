"""Devices: one bearer token each, hashed at rest; it slides while the device is in use."""

import msgspec
from msgspec import Struct

from brinebook import clock
from brinebook.access import tokens
from brinebook.access.errors import NotSignedIn
from brinebook.records.common import Role
from brinebook.records.edited import Member
from brinebook.storage.errors import NotFound
from brinebook.storage.repository import Device, Repository

DAY_MS = 24 * 3_600_000
RIDER_DAYS = 180
STAFF_DAYS = 35
OF_DEVICE = "device-"


class OwnDevice(Struct, frozen=True, kw_only=True):
    """A device as its owner sees it. ``seen_at_ms`` is known to the day: a token is renewed once a day."""

    id: str
    name: str
    seen_at_ms: int
    joined_at_ms: int
    is_this: bool


class TeamDevice(OwnDevice, frozen=True, kw_only=True):
    """A device as those who plan see it."""

    member_id: str
    is_revoked: bool


class SignedIn(Struct, frozen=True, kw_only=True):
    """A person on a device. ``token`` is there only right after joining."""

    device: Device
    member: Member
    token: str = ""

    @property
    def team_id(self) -> str:
        """Name the team, which only the token decides."""
        return self.device.team_id


def life_ms(role: Role) -> int:
    """Tell how long a token lives without being used."""
    return (RIDER_DAYS if role == "rider" else STAFF_DAYS) * DAY_MS


def new_device(
    team_id: str, member: Member, *, token: str, name: str, now_ms: int, id_: str | None = None,
) -> Device:
    """Make the device of somebody who came in; with the ``id_`` of an earlier claim, the same one again."""
    return Device(
        id=id_ or f"{OF_DEVICE}{clock.new_id()}", team_id=team_id, member_id=member.id, name=name,
        token_sha=tokens.sha(token), device_key_sha="", expires_at_ms=now_ms + life_ms(member.role),
    )


def signed_in(repository: Repository, token: str) -> SignedIn:
    """Find who holds the token, be the device revoked or not; refresh the token's life once a day."""
    now_ms = clock.now_ms()
    found = repository.holder(tokens.sha(token))
    if found is None or found[0].expires_at_ms <= now_ms:
        raise NotSignedIn
    device, member = found
    if device.token_sha != tokens.sha(token):
        # The first use of the new one shows that its answer arrived; only now does the old one end.
        repository.take_next_token(device.team_id, device.id, tokens.sha(token))
        device = msgspec.structs.replace(device, token_sha=tokens.sha(token), next_token_sha=None)
    expires_at_ms = now_ms + life_ms(member.role)
    if not device.is_revoked and expires_at_ms - device.expires_at_ms > DAY_MS:
        device = msgspec.structs.replace(device, expires_at_ms=expires_at_ms)
        repository.renew_device(device.team_id, device.id, expires_at_ms)
    return SignedIn(device=device, member=member)


def is_still_signed_in(repository: Repository, who: SignedIn) -> bool:
    """Tell whether a device and its person are still what they were when ``who`` was found; else it asks anew."""
    found = repository.holder(who.device.token_sha)
    if found is None or found[0].is_revoked or found[0].expires_at_ms <= clock.now_ms():
        return False
    return found[1].role == who.member.role


def _joined_at_ms(device: Device) -> int:
    """Tell when a device came in: its id was made then and holds the instant (RFC 9562, 5.7)."""
    return clock.instant_of_id(device.id.removeprefix(OF_DEVICE))


def _seen_at_ms(device: Device, role: Role) -> int:
    return device.expires_at_ms - life_ms(role)


def own_devices(repository: Repository, who: SignedIn) -> list[OwnDevice]:
    """List the devices a person is signed in on, the latest seen first."""
    now_ms = clock.now_ms()
    found = [
        OwnDevice(
            id=device.id, name=device.name, is_this=device.id == who.device.id,
            seen_at_ms=_seen_at_ms(device, who.member.role), joined_at_ms=_joined_at_ms(device),
        )
        for device in repository.devices_of(who.team_id, who.member.id) if device.expires_at_ms > now_ms
    ]
    return sorted(found, key=lambda device: (not device.is_this, -device.seen_at_ms, device.id))


def is_own_record(who: SignedIn, subject_id: str) -> bool:
    """Tell whether a record with this subject is about the person himself."""
    return subject_id in {who.member.id, who.member.rider_id}


def must_own(repository: Repository, who: SignedIn, device_id: str) -> None:
    """Let pass who is signed in on that device; whether another's exists is not told."""
    device = repository.device(who.team_id, device_id)
    if device is None or device.member_id != who.member.id:
        raise NotFound("device", device_id)


def revoke(repository: Repository, team_id: str, device_id: str) -> Device:
    """Sign a device out; what it still has to send is kept aside for review."""
    with repository.transaction():
        repository.hold(team_id)
        device = repository.device(team_id, device_id)
        if device is None:
            raise NotFound("device", device_id)
        repository.put_device(msgspec.structs.replace(device, is_revoked=True))
        repository.delete_subscription(team_id, device_id)
    return device


def end_all(repository: Repository, who: SignedIn, member_id: str) -> list[Device]:
    """Sign a person out on every device but the one that asks, another's passkeys included; return those that ended."""
    repository.member(who.team_id, member_id)
    found = [one for one in repository.devices_of(who.team_id, member_id) if one.id != who.device.id]
    ended = [revoke(repository, who.team_id, one.id) for one in found]
    if member_id != who.member.id:
        repository.delete_passkeys(who.team_id, member_id)
    return ended


def rotate(repository: Repository, who: SignedIn) -> str:
    """Give another token; the present one stays good until the new one is used, so a lost reply locks nobody out."""
    token = clock.secret()
    with repository.transaction():
        repository.hold(who.team_id)
        device = repository.device(who.team_id, who.device.id)
        if device is None or device.is_revoked:
            raise NotSignedIn
        repository.put_device(msgspec.structs.replace(device, next_token_sha=tokens.sha(token)))
    return token


def devices_of_team(repository: Repository, who: SignedIn) -> list[TeamDevice]:
    """List the team's devices that can still sign in, and those that were revoked."""
    roles = {member.id: member.role for member in repository.members(who.team_id)}
    return [
        TeamDevice(
            id=one.id, name=one.name, member_id=one.member_id, is_revoked=one.is_revoked,
            is_this=one.id == who.device.id, seen_at_ms=_seen_at_ms(one, roles[one.member_id]),
            joined_at_ms=_joined_at_ms(one),
        )
        for one in repository.devices(who.team_id) if one.member_id in roles and one.expires_at_ms > clock.now_ms()
    ]
