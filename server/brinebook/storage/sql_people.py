"""Teams, members, devices, invitations and wake-up addresses in SQL."""

import msgspec
from sqlalchemy import ColumnElement, and_, bindparam, delete, or_, select

from brinebook.records.edited import Member, Team
from brinebook.storage import mapping
from brinebook.storage.errors import NotFound
from brinebook.storage.repository import Device, Invite, Subscription
from brinebook.storage.rows import table
from brinebook.storage.sql_records import SqlRecords
from brinebook.storage.upsert import put

TEAM, DEVICE, INVITE, SUBSCRIPTION = (table(name) for name in ("team_counter", "device", "invite", "push_subscription"))
EDITED = table("edited")
_HOLDER = select(DEVICE, EDITED.c.body).join(
    EDITED,
    and_(EDITED.c.team_id == DEVICE.c.team_id, EDITED.c.type == mapping.TYPE_NAMES[Member],
         EDITED.c.id == DEVICE.c.member_id),
).where(or_(*(column == bindparam("token_sha_given") for column in (DEVICE.c.token_sha, DEVICE.c.next_token_sha))))


class SqlPeople(SqlRecords):
    """Implements ``People``; teams and members are edited records."""

    def team_ids(self) -> list[str]:
        """List all teams."""
        with self.database.reading() as connection:
            return list(connection.scalars(select(TEAM.c.team_id).order_by(TEAM.c.team_id)))

    def uncomputed_team_ids(self) -> list[str]:
        """List teams whose derived records may be behind their facts, as after a crash."""
        with self.database.reading() as connection:
            return list(connection.scalars(select(TEAM.c.team_id).where(TEAM.c.computed_seq != TEAM.c.event_seq)))

    def mark_computed(self, team_id: str, seq: int) -> None:
        """Note up to which fact the derived records were computed."""
        with self.database.writing() as connection:
            connection.execute(TEAM.update().where(TEAM.c.team_id == team_id).values(computed_seq=seq))

    def add_team(self, team: Team) -> None:
        """Keep a new team and give it its counters."""
        with self.database.writing() as connection:
            connection.execute(TEAM.insert().values(team_id=team.id, event_seq=0, document_seq=0, computed_seq=0))
            self.put_edited(team.id, team)

    def team(self, team_id: str) -> Team:
        """Read a team, or raise ``NotFound``."""
        found = self.edited(team_id, Team, team_id)
        if found is None:
            raise NotFound("team", team_id)
        return found

    def put_member(self, team_id: str, member: Member) -> None:
        """Keep a member, new or changed."""
        self.put_edited(team_id, member)

    def member(self, team_id: str, member_id: str) -> Member:
        """Read a member, or raise ``NotFound``."""
        found = self.edited(team_id, Member, member_id)
        if found is None:
            raise NotFound("member", member_id)
        return found

    def members(self, team_id: str) -> list[Member]:
        """List a team's members."""
        return self.all_edited(team_id, Member)

    def put_device(self, device: Device) -> None:
        """Keep a device, new or changed."""
        row = mapping.device_row(device)
        with self.database.writing() as connection:
            put(connection, DEVICE, [row])

    def renew_device(self, team_id: str, device_id: str, expires_at_ms: int) -> None:
        """Let a device live longer, whatever else becomes of it at the same time."""
        own = (DEVICE.c.team_id == team_id, DEVICE.c.id == device_id)
        with self.database.writing() as connection:
            connection.execute(DEVICE.update().where(*own).values(expires_at_ms=expires_at_ms))

    def _devices(self, *which: ColumnElement[bool]) -> list[Device]:
        wanted = select(DEVICE).where(*which).order_by(DEVICE.c.team_id, DEVICE.c.id)
        with self.database.reading() as connection:
            return [mapping.device_record(dict(row)) for row in connection.execute(wanted).mappings()]

    def devices(self, team_id: str) -> list[Device]:
        """List the devices of a team, in order of id."""
        return self._devices(DEVICE.c.team_id == team_id)

    def take_next_token(self, team_id: str, device_id: str, token_sha: str) -> None:
        """Let the token given out last be the device's only one; another one meanwhile stays as it is."""
        own = (DEVICE.c.team_id == team_id, DEVICE.c.id == device_id, DEVICE.c.next_token_sha == token_sha)
        with self.database.writing() as connection:
            connection.execute(DEVICE.update().where(*own).values(token_sha=token_sha, next_token_sha=None))

    def verify_device(self, team_id: str, device_id: str, at_ms: int) -> None:
        """Note that the device's holder showed who he is."""
        own = (DEVICE.c.team_id == team_id, DEVICE.c.id == device_id)
        with self.database.writing() as connection:
            connection.execute(DEVICE.update().where(*own).values(verified_at_ms=at_ms))

    def device_by_token(self, token_sha: str) -> Device | None:
        """Find a device by the hash of its token."""
        with self.database.reading() as connection:
            row = connection.execute(select(DEVICE).where(DEVICE.c.token_sha == token_sha)).mappings().first()
        return None if row is None else mapping.device_record(dict(row))

    def holder(self, token_sha: str) -> tuple[Device, Member] | None:
        """Find a device by the hash of its token, together with its member."""
        with self.database.reading() as connection:
            row = connection.execute(_HOLDER, {"token_sha_given": token_sha}).mappings().first()
        if row is None:
            return None
        fields = dict(row)
        member = msgspec.json.decode(fields.pop("body"), type=Member)
        return mapping.device_record(fields), member

    def device(self, team_id: str, device_id: str) -> Device | None:
        """Read a device."""
        wanted = select(DEVICE).where(DEVICE.c.team_id == team_id, DEVICE.c.id == device_id)
        with self.database.reading() as connection:
            row = connection.execute(wanted).mappings().first()
        return None if row is None else mapping.device_record(dict(row))

    def devices_of(self, team_id: str, member_id: str) -> list[Device]:
        """List a member's devices that are not revoked."""
        return self._devices(
            DEVICE.c.team_id == team_id, DEVICE.c.member_id == member_id, DEVICE.c.is_revoked.is_(False),
        )

    def revoked_devices(self) -> list[Device]:
        """List the revoked devices of all teams."""
        return self._devices(DEVICE.c.is_revoked.is_(True))

    def put_invite(self, invite: Invite) -> None:
        """Keep an invitation, new or claimed."""
        row = mapping.invite_row(invite)
        with self.database.writing() as connection:
            put(connection, INVITE, [row])

    def invite_by_hash(self, sha: str) -> Invite | None:
        """Find an invitation by the hash of its secret or of its code."""
        wanted = select(INVITE).where(or_(INVITE.c.secret_sha == sha, INVITE.c.code_sha == sha))
        with self.database.reading() as connection:
            row = connection.execute(wanted).mappings().first()
        return None if row is None else mapping.invite_record(dict(row))

    def put_subscription(self, subscription: Subscription) -> None:
        """Keep a device's wake-up address."""
        row = mapping.subscription_row(subscription)
        with self.database.writing() as connection:
            put(connection, SUBSCRIPTION, [row])

    def subscriptions(self, team_id: str) -> list[Subscription]:
        """List a team's wake-up addresses."""
        wanted = select(SUBSCRIPTION).where(SUBSCRIPTION.c.team_id == team_id).order_by(SUBSCRIPTION.c.device_id)
        with self.database.reading() as connection:
            rows = connection.execute(wanted).mappings().all()
        return [mapping.subscription_record(dict(row)) for row in rows]

    def delete_subscription(self, team_id: str, device_id: str) -> None:
        """Forget a wake-up address."""
        own = (SUBSCRIPTION.c.team_id == team_id, SUBSCRIPTION.c.device_id == device_id)
        with self.database.writing() as connection:
            connection.execute(delete(SUBSCRIPTION).where(*own))
