"""Events in SQL: a gap-free sequence from a counter row in the same transaction."""

import hashlib
from collections.abc import Sequence

from sqlalchemy import Connection, RowMapping, Select, func, select

from brinebook.records.facts import Event
from brinebook.storage import mapping
from brinebook.storage.database import Database
from brinebook.storage.errors import NotFound
from brinebook.storage.repository import KnownEvent, NewEvent, StoredEvent, SubjectDigest
from brinebook.storage.rows import table
from brinebook.storage.upsert import put, put_once

TEAM, EVENT, DIGEST, QUARANTINE = (table(name) for name in ("team_counter", "event", "event_digest", "quarantine"))
KEYS = (EVENT.c.id, EVENT.c.seq, EVENT.c.sha, EVENT.c.kind, EVENT.c.subject_id, EVENT.c.by, EVENT.c.disclosed_as)


def id_digest(id_: str) -> int:
    """Give the first 64 bits of the sha256 of an event's id."""
    return int.from_bytes(hashlib.sha256(id_.encode()).digest()[:8], "big")


class SqlFacts:
    """Implements ``Facts``."""

    database: Database

    def head(self, team_id: str) -> int:
        """Read the sequence number of the team's last event."""
        with self.database.reading() as connection:
            return connection.scalar(select(TEAM.c.event_seq).where(TEAM.c.team_id == team_id)) or 0

    def _rows(self, wanted: Select[tuple[object, ...]]) -> Sequence[RowMapping]:
        with self.database.reading() as connection:
            return connection.execute(wanted).mappings().all()

    def known_events(self, team_id: str, ids: Sequence[str]) -> dict[str, KnownEvent]:
        """Find which of the ids this team already has."""
        rows = self._rows(select(*KEYS).where(EVENT.c.team_id == team_id, EVENT.c.id.in_(list(ids))))
        return {row["id"]: mapping.known_event(dict(row)) for row in rows}

    def add_events(self, team_id: str, events: Sequence[NewEvent]) -> dict[str, int]:
        """Keep new events in the order given; return id -> sequence number."""
        if not events:
            return {}
        with self.database.writing() as connection:
            first = self._next_seq(connection, team_id, len(events))
            rows = [mapping.event_row(team_id, first + place, new) for place, new in enumerate(events)]
            connection.execute(EVENT.insert(), rows)
            self._raise_digests(connection, team_id, events)
        return {row["id"]: row["seq"] for row in rows}

    @staticmethod
    def _next_seq(connection: Connection, team_id: str, n_events: int) -> int:
        """
        Take the next numbers and give the first.

        The lock of the counter row stays until the commit, so that numbers become visible in their order: a reader
        that has seen n never meets a smaller number later.
        """
        raised = TEAM.update().where(TEAM.c.team_id == team_id).values(event_seq=TEAM.c.event_seq + n_events)
        last = connection.scalar(raised.returning(TEAM.c.event_seq))
        if last is None:
            raise NotFound("team", team_id)
        return int(last) - n_events + 1

    def quarantine(self, team_id: str, events: Sequence[NewEvent], reason: str) -> None:
        """Keep bodies aside."""
        rows = [mapping.quarantine_row(team_id, new, reason) for new in events]
        if rows:
            with self.database.writing() as connection:
                put_once(connection, QUARANTINE, rows)

    def quarantined_ids(self, team_id: str, ids: Sequence[str]) -> frozenset[str]:
        """Find which of the ids stand aside in this team."""
        wanted = select(QUARANTINE.c.id).where(QUARANTINE.c.team_id == team_id, QUARANTINE.c.id.in_(list(ids)))
        return frozenset(row["id"] for row in self._rows(wanted))

    def n_quarantined(self, team_id: str) -> int:
        """Count what stands aside."""
        with self.database.reading() as connection:
            wanted = select(func.count()).select_from(QUARANTINE).where(QUARANTINE.c.team_id == team_id)
            return connection.scalar(wanted) or 0

    def events_after(self, team_id: str, seq: int, limit: int) -> list[StoredEvent]:
        """Read the next events of the team's sequence, raw, unfiltered."""
        wanted = select(EVENT.c.seq, EVENT.c.subject_id, EVENT.c.disclosed_as, EVENT.c.raw)
        wanted = wanted.where(EVENT.c.team_id == team_id, EVENT.c.seq > seq).order_by(EVENT.c.seq).limit(limit)
        return [mapping.stored_event(dict(row)) for row in self._rows(wanted)]

    def events_by_id(self, team_id: str, ids: Sequence[str]) -> dict[str, Event]:
        """Read the events of this team that have one of the ids."""
        rows = self._rows(select(EVENT.c.id, EVENT.c.raw).where(EVENT.c.team_id == team_id, EVENT.c.id.in_(list(ids))))
        return {row["id"]: mapping.event_record(dict(row)) for row in rows}

    def digests(self, team_id: str) -> list[SubjectDigest]:
        """Read count and XOR per subject and kind."""
        rows = self._rows(select(DIGEST).where(DIGEST.c.team_id == team_id))
        return [mapping.digest_record(dict(row)) for row in rows]

    def _raise_digests(self, connection: Connection, team_id: str, events: Sequence[NewEvent]) -> None:
        added: dict[tuple[str, str], tuple[int, int]] = {}
        for new in events:
            key = (new.event.subject_id, new.disclosed_as)
            n_events, xor64 = added.get(key, (0, 0))
            added[key] = (n_events + 1, xor64 ^ id_digest(new.event.id))
        # The counter row is locked by now, so what is read here is what the last writer left.
        for key, old in self._digests_of(connection, team_id, sorted(added)).items():
            n_events, xor64 = added[key]
            added[key] = (n_events + old.n_events, xor64 ^ old.xor64)
        put(connection, DIGEST, [
            mapping.digest_row(team_id, SubjectDigest(subject_id=key[0], disclosed_as=key[1], n_events=n, xor64=xor64))
            for key, (n, xor64) in sorted(added.items())
        ])

    @staticmethod
    def _digests_of(
        connection: Connection, team_id: str, keys: list[tuple[str, str]],
    ) -> dict[tuple[str, str], SubjectDigest]:
        wanted = select(DIGEST).where(
            DIGEST.c.team_id == team_id, DIGEST.c.subject_id.in_(sorted({subject_id for subject_id, _ in keys})),
        )
        found = [mapping.digest_record(dict(row)) for row in connection.execute(wanted).mappings()]
        return {key: one for one in found if (key := (one.subject_id, one.disclosed_as)) in keys}

    def events_for_subject(self, team_id: str, subject_id: str) -> list[Event]:
        """Read all events about one subject, in sequence."""
        own = (EVENT.c.team_id == team_id, EVENT.c.subject_id == subject_id)
        rows = self._rows(select(EVENT.c.raw).where(*own).order_by(EVENT.c.seq))
        return [mapping.event_record(dict(row)) for row in rows]

    def events_for_team(self, team_id: str) -> list[Event]:
        """Read all events of the team, in sequence."""
        rows = self._rows(select(EVENT.c.raw).where(EVENT.c.team_id == team_id).order_by(EVENT.c.seq))
        return [mapping.event_record(dict(row)) for row in rows]
