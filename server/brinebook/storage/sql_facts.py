"""Events in SQL: a gap-free sequence from a counter row in the same transaction."""

import hashlib
from collections.abc import Collection, Sequence

from sqlalchemy import BindParameter, Connection, RowMapping, Select, bindparam, delete, func, select, text

from brinebook.records.facts import Event
from brinebook.storage import mapping
from brinebook.storage.database import Database
from brinebook.storage.errors import NotFound, StorageConflict
from brinebook.storage.repository import Aside, Heads, KnownEvent, NewEvent, StoredEvent, SubjectDigest
from brinebook.storage.rows import table
from brinebook.storage.upsert import insert_many, put_many, put_once

ERASED_AS = "erased"
"""The readers of what was erased: nobody."""
TEAM, EVENT, DIGEST, QUARANTINE = (table(name) for name in ("team_counter", "event", "event_digest", "quarantine"))
KEYS = (EVENT.c.id, EVENT.c.seq, EVENT.c.sha, EVENT.c.kind, EVENT.c.subject_id, EVENT.c.by, EVENT.c.disclosed_as)
PLACES = (EVENT.c.seq, EVENT.c.subject_id, EVENT.c.disclosed_as, EVENT.c.raw, EVENT.c.id, EVENT.c.sha)

# Every exchange runs these, so each is built once: building a statement costs more than running it.
_TEAM_ID: BindParameter[str] = bindparam("of_team")
_IDS: BindParameter[str] = bindparam("ids", expanding=True)
_HEADS = select(TEAM.c.event_seq, TEAM.c.document_seq, TEAM.c.erased_seq).where(TEAM.c.team_id == _TEAM_ID)
_RAISED = (
    TEAM.update().where(TEAM.c.team_id == _TEAM_ID).values(event_seq=TEAM.c.event_seq + bindparam("more"))
    .returning(TEAM.c.event_seq)
)
_KNOWN = select(*KEYS).where(EVENT.c.team_id == _TEAM_ID, EVENT.c.id.in_(_IDS))
_KNOWN_ONE_BY_ONE = text("""
    SELECT known.* FROM unnest(CAST(:ids AS text[])) AS wanted (id) CROSS JOIN LATERAL (
        SELECT event.id, event.seq, event.sha, event.kind, event.subject_id, event."by", event.disclosed_as
        FROM event WHERE event.team_id = :of_team AND event.id = wanted.id OFFSET 0
    ) AS known
""")
"""On PostgreSQL: one look by key for each. Asked for a list, it reads all facts of the team until it has statistics."""
_AFTER = (
    select(*PLACES)
    .where(EVENT.c.team_id == _TEAM_ID, EVENT.c.seq > bindparam("seq")).order_by(EVENT.c.seq).limit(bindparam("most"))
)
_DIGESTS = select(DIGEST.c.subject_id, DIGEST.c.disclosed_as, DIGEST.c.n_events, DIGEST.c.xor64_hex).where(
    DIGEST.c.team_id == _TEAM_ID,
)
_ERASED_SUBJECTS = select(table("erased_subject").c.subject_id).where(
    table("erased_subject").c.team_id == _TEAM_ID,
)
_DIGESTS_OF = _DIGESTS.where(DIGEST.c.subject_id.in_(_IDS))


def id_digest(id_: str) -> int:
    """Give the first 64 bits of the sha256 of an event's id."""
    return int.from_bytes(hashlib.sha256(id_.encode()).digest()[:8], "big")


class SqlFacts:
    """Implements ``Facts``."""

    database: Database

    def heads(self, team_id: str) -> Heads:
        """Read the last numbers of the team's events and documents."""
        with self.database.reading() as connection:
            row = connection.execute(_HEADS, {"of_team": team_id}).first()
        return Heads() if row is None else Heads(*row)

    def head(self, team_id: str) -> int:
        """Read the sequence number of the team's last event."""
        return self.heads(team_id).events

    def _rows(self, wanted: Select[tuple[object, ...]]) -> Sequence[RowMapping]:
        with self.database.reading() as connection:
            return connection.execute(wanted).mappings().all()

    def known_events(self, team_id: str, ids: Sequence[str]) -> dict[str, KnownEvent]:
        """Find which of the ids this team already has."""
        with self.database.reading() as connection:
            statement = _KNOWN_ONE_BY_ONE if connection.dialect.name == "postgresql" else _KNOWN
            rows = connection.execute(statement, {"of_team": team_id, "ids": list(ids)}).all()
        return {row[0]: mapping.known_event(row) for row in rows}

    def add_events(self, team_id: str, events: Sequence[NewEvent]) -> dict[str, int]:
        """Keep new events in the order given; return id -> sequence number."""
        if not events:
            return {}
        with self.database.writing() as connection:
            first = self._next_seq(connection, team_id, len(events))
            self._refuse_erased(connection, team_id, events)
            rows = [mapping.event_row(team_id, first + place, new) for place, new in enumerate(events)]
            insert_many(connection, EVENT, rows)
            self._raise_digests(connection, team_id, events)
        return {row["id"]: row["seq"] for row in rows}

    @staticmethod
    def _next_seq(connection: Connection, team_id: str, n_events: int) -> int:
        """
        Take the next numbers and give the first.

        The lock of the counter row stays until the commit, so that numbers become visible in their order: a reader
        that has seen n never meets a smaller number later.
        """
        last = connection.scalar(_RAISED, {"of_team": team_id, "more": n_events})
        if last is None:
            raise NotFound("team", team_id)
        return int(last) - n_events + 1

    @staticmethod
    def _refuse_erased(connection: Connection, team_id: str, events: Sequence[NewEvent]) -> None:
        """Stop a batch that was judged before its subject was erased; judged again, it is answered as it must be."""
        erased = frozenset(connection.scalars(_ERASED_SUBJECTS, {"of_team": team_id}))
        if any(new.event.subject_id in erased and new.disclosed_as != "erase" for new in events):
            raise StorageConflict("erased meanwhile")

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

    def aside(self, team_id: str, reason: str) -> list[Aside]:
        """List what stands aside for a reason, in the order it came."""
        columns = (QUARANTINE.c.n, QUARANTINE.c.received_at_ms, QUARANTINE.c.raw)
        own = (QUARANTINE.c.team_id == team_id, QUARANTINE.c.reason == reason)
        return [Aside(**row) for row in self._rows(select(*columns).where(*own).order_by(QUARANTINE.c.n))]

    def mark_aside(self, team_id: str, n: int, reason: str | None) -> None:
        """Give what stands aside another reason; with None it stands aside no more."""
        own = (QUARANTINE.c.team_id == team_id, QUARANTINE.c.n == n)
        with self.database.writing() as connection:
            if reason is None:
                connection.execute(delete(QUARANTINE).where(*own))
            else:
                connection.execute(QUARANTINE.update().where(*own).values(reason=reason))

    def events_after(self, team_id: str, seq: int, limit: int) -> list[StoredEvent]:
        """Read the next events of the team's sequence, raw, unfiltered."""
        with self.database.reading() as connection:
            rows = connection.execute(_AFTER, {"of_team": team_id, "seq": seq, "most": limit}).all()
        return [mapping.stored_event(row) for row in rows]

    def events_by_id(self, team_id: str, ids: Sequence[str]) -> dict[str, Event]:
        """Read the events of this team that have one of the ids."""
        own = (EVENT.c.team_id == team_id, EVENT.c.id.in_(list(ids)), EVENT.c.disclosed_as != ERASED_AS)
        rows = self._rows(select(EVENT.c.id, EVENT.c.raw).where(*own))
        return {row["id"]: mapping.event_record(dict(row)) for row in rows}

    def digests(self, team_id: str) -> list[SubjectDigest]:
        """Read count and XOR per subject and kind."""
        with self.database.reading() as connection:
            rows = connection.execute(_DIGESTS, {"of_team": team_id}).all()
        return [mapping.digest_record(row) for row in rows]

    def _raise_digests(self, connection: Connection, team_id: str, events: Sequence[NewEvent]) -> None:
        added: dict[tuple[str, str], tuple[int, int]] = {}
        for new in events:
            key = (new.event.subject_id, new.disclosed_as)
            n_events, xor64 = added.get(key, (0, 0))
            added[key] = (n_events + 1, xor64 ^ id_digest(new.event.id))
        # The counter row is locked by now, so what is read here is what the last writer left.
        for key, old in self._digests_of(connection, team_id, frozenset(added)).items():
            n_events, xor64 = added[key]
            added[key] = (n_events + old.n_events, xor64 ^ old.xor64)
        put_many(connection, DIGEST, [
            mapping.digest_row(team_id, SubjectDigest(subject_id=key[0], disclosed_as=key[1], n_events=n, xor64=xor64))
            for key, (n, xor64) in sorted(added.items())
        ])

    @staticmethod
    def _digests_of(
        connection: Connection, team_id: str, keys: Collection[tuple[str, str]],
    ) -> dict[tuple[str, str], SubjectDigest]:
        of = {"of_team": team_id, "ids": sorted({subject_id for subject_id, _ in keys})}
        found = [mapping.digest_record(row) for row in connection.execute(_DIGESTS_OF, of).all()]
        return {key: one for one in found if (key := (one.subject_id, one.disclosed_as)) in keys}

    def last_received_ms(self) -> int:
        """Tell when the latest event of any team came in; 0 when there is none."""
        with self.database.reading() as connection:
            return connection.scalar(select(func.max(EVENT.c.received_at_ms))) or 0

    def events_for_subject(self, team_id: str, subject_id: str) -> list[Event]:
        """Read all events about one subject, in sequence."""
        own = (EVENT.c.team_id == team_id, EVENT.c.subject_id == subject_id)
        rows = self._rows(select(EVENT.c.raw).where(*own).order_by(EVENT.c.seq))
        return [mapping.event_record(dict(row)) for row in rows]

    def events_for_team(self, team_id: str) -> list[Event]:
        """Read all events of the team, in sequence."""
        own = (EVENT.c.team_id == team_id, EVENT.c.disclosed_as != ERASED_AS)
        rows = self._rows(select(EVENT.c.raw).where(*own).order_by(EVENT.c.seq))
        return [mapping.event_record(dict(row)) for row in rows]
