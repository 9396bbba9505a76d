"""Forgetting a subject in SQL: of an event stays its number, id and kind, of everything else nothing."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any

import msgspec
from sqlalchemy import Connection, delete, select

from brinebook.storage import mapping
from brinebook.storage.database import Database
from brinebook.storage.ledger import Erasure
from brinebook.storage.repository import NewEvent
from brinebook.storage.rows import table
from brinebook.storage.sql_facts import DIGEST, ERASED_AS, EVENT, QUARANTINE, TEAM, SqlFacts
from brinebook.storage.sql_records import SqlRecords
from brinebook.storage.upsert import put_once

ERASED, EDITED, DEVICE, INVITE, SUBSCRIPTION, DOCUMENT, ANSWER, WISH, PASSKEY = (
    table(name) for name in ("erased_subject", "edited", "device", "invite", "push_subscription", "document",
                             "notice_answer", "erasure_wish", "passkey")
)
OF_A_PERSON = tuple(mapping.TYPE_NAMES[kind] for kind in mapping.OF_A_PERSON)
NOTHING: Mapping[str, Any] = MappingProxyType({
    "subject_id": "", "by": "", "sha": "", "disclosed_as": ERASED_AS, "received_at_ms": 0, "raw": b"",
})
"""What stays of an event that is let go of, beside its number, id and kind."""


class _OnlySubject(msgspec.Struct):
    subject_id: str = ""


class SqlErasure(SqlFacts, SqlRecords):
    """Implements ``Erasures``."""

    database: Database

    def erased_subjects(self, team_id: str) -> frozenset[str]:
        """Name the subjects of the team that were erased."""
        with self.database.reading() as connection:
            return frozenset(connection.scalars(select(ERASED.c.subject_id).where(ERASED.c.team_id == team_id)))

    def erasures(self) -> list[Erasure]:
        """List all erasures of all teams."""
        with self.database.reading() as connection:
            rows = connection.execute(select(ERASED).order_by(*ERASED.primary_key)).mappings().all()
        return [Erasure(**row) for row in rows]

    def remember_erasure(self, erasure: Erasure) -> None:
        """Note an erasure of somebody this store never knew, so that it stays so."""
        with self.database.writing() as connection:
            put_once(connection, ERASED, [msgspec.structs.asdict(erasure)])

    def erase(self, erasure: Erasure, member_ids: Sequence[str], control: NewEvent) -> int:
        """Erase a subject and its members' devices in place; return how many events lost their content."""
        team_id, ids = erasure.team_id, [erasure.subject_id, *member_ids]
        with self.database.writing() as connection:
            n_events = self._erase_events(connection, team_id, ids)
            self._erase_quarantine(connection, team_id, frozenset(ids))
            self._erase_records(connection, team_id, ids)
            for gone in (DEVICE, INVITE, SUBSCRIPTION, ANSWER, PASSKEY):
                connection.execute(delete(gone).where(gone.c.team_id == team_id, gone.c.member_id.in_(ids)))
            connection.execute(delete(WISH).where(WISH.c.team_id == team_id, WISH.c.subject_id.in_(ids)))
            put_once(connection, ERASED, [msgspec.structs.asdict(erasure)])
            seq = self.add_events(team_id, [control])[control.event.id]
            marks = {"erased_seq": seq, "computed_seq": -1}
            connection.execute(TEAM.update().where(TEAM.c.team_id == team_id).values(**marks))
        return n_events

    @staticmethod
    def _erase_events(connection: Connection, team_id: str, ids: Sequence[str]) -> int:
        own = (EVENT.c.team_id == team_id, EVENT.c.subject_id.in_(ids))
        done = connection.execute(EVENT.update().where(*own).values(**NOTHING))
        connection.execute(delete(DIGEST).where(DIGEST.c.team_id == team_id, DIGEST.c.subject_id.in_(ids)))
        return done.rowcount

    @staticmethod
    def _erase_quarantine(connection: Connection, team_id: str, ids: frozenset[str]) -> None:
        wanted = select(QUARANTINE.c.n, QUARANTINE.c.raw).where(QUARANTINE.c.team_id == team_id)
        about = [n for n, raw in connection.execute(wanted) if subject_of(raw) in ids]
        connection.execute(delete(QUARANTINE).where(QUARANTINE.c.n.in_(about)))

    def _erase_records(self, connection: Connection, team_id: str, ids: Sequence[str]) -> None:
        own = (EDITED.c.team_id == team_id, EDITED.c.type.in_(OF_A_PERSON), EDITED.c.id.in_(ids))
        connection.execute(delete(EDITED).where(*own))
        about = select(DOCUMENT.c.id).where(DOCUMENT.c.team_id == team_id, DOCUMENT.c.subject_id.in_(ids))
        self.delete_documents(team_id, list(connection.scalars(about)))

    def scrub(self) -> None:
        """Let go of old copies of what was erased: free pages, log file, dead rows."""
        self.database.backend.scrub()


def subject_of(raw: bytes) -> str:
    """Read whom a raw body is about; empty when it cannot be told."""
    try:
        return msgspec.json.decode(raw, type=_OnlySubject).subject_id
    except msgspec.DecodeError:
        # What cannot be read cannot be shown to be about somebody else.
        return ""
