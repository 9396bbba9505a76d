"""Passkeys in SQL."""

from typing import Any

from msgspec.structs import asdict
from sqlalchemy import delete, select

from brinebook.storage.database import Database
from brinebook.storage.keys import Passkey
from brinebook.storage.rows import table
from brinebook.storage.upsert import INSERTS, put

PASSKEY, ANSWERED = table("passkey"), table("answered_challenge")
_COLUMNS = [PASSKEY.c[name] for name in Passkey.__struct_fields__]


class SqlKeys:
    """Implements ``Keyed``."""

    database: Database

    def put_passkey(self, passkey: Passkey) -> None:
        """Keep a passkey, new or used."""
        with self.database.writing() as connection:
            put(connection, PASSKEY, [asdict(passkey)])

    def passkey(self, id_: str) -> Passkey | None:
        """Find a passkey, in whatever team."""
        with self.database.reading() as connection:
            row = connection.execute(select(*_COLUMNS).where(PASSKEY.c.id == id_)).mappings().first()
        return None if row is None else Passkey(**row)

    def passkeys_of(self, team_id: str, member_id: str) -> list[Passkey]:
        """List a member's passkeys, the oldest first."""
        own = (PASSKEY.c.team_id == team_id, PASSKEY.c.member_id == member_id)
        wanted = select(*_COLUMNS).where(*own).order_by(PASSKEY.c.made_at_ms, PASSKEY.c.id)
        with self.database.reading() as connection:
            return [Passkey(**row) for row in connection.execute(wanted).mappings()]

    def delete_passkeys(self, team_id: str, member_id: str, id_: str | None = None) -> int:
        """Forget one of a member's passkeys, or all."""
        own = [PASSKEY.c.team_id == team_id, PASSKEY.c.member_id == member_id]
        if id_ is not None:
            own.append(PASSKEY.c.id == id_)
        with self.database.writing() as connection:
            return connection.execute(delete(PASSKEY).where(*own)).rowcount

    def passkey_ids(self) -> frozenset[str]:
        """Name the passkeys of all teams."""
        with self.database.reading() as connection:
            return frozenset(connection.scalars(select(PASSKEY.c.id)))

    def keep_passkeys(self, ids: frozenset[str]) -> None:
        """Forget all passkeys but these."""
        gone = sorted(self.passkey_ids() - ids)
        with self.database.writing() as connection:
            connection.execute(delete(PASSKEY).where(PASSKEY.c.id.in_(gone)))

    def use_challenge(self, sha: str, expires_at_ms: int, now_ms: int) -> bool:
        """Note that a challenge was answered; False when it was before."""
        with self.database.writing() as connection:
            connection.execute(delete(ANSWERED).where(ANSWERED.c.expires_at_ms < now_ms))
            noted: Any = INSERTS[connection.dialect.name](ANSWERED).values(sha=sha, expires_at_ms=expires_at_ms)
            return connection.execute(noted.on_conflict_do_nothing().returning(ANSWERED.c.sha)).first() is not None
