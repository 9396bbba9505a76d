"""Events in SQL: a gap-free sequence from a counter row in the same transaction."""

from collections.abc import Sequence

from sqlalchemy import RowMapping, Select, func, select
from sqlalchemy.dialects.sqlite import insert

from brinebook.records.facts import Event
from brinebook.records.wire import PulledEvent
from brinebook.storage import mapping
from brinebook.storage.database import Database
from brinebook.storage.errors import NotFound
from brinebook.storage.repository import KnownEvent, NewEvent
from brinebook.storage.rows import table

TEAM, EVENT, QUARANTINE = (table(name) for name in ("team_counter", "event", "quarantine"))
KEYS = (EVENT.c.id, EVENT.c.seq, EVENT.c.sha, EVENT.c.kind, EVENT.c.subject_id, EVENT.c.by)


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
        raised = TEAM.update().where(TEAM.c.team_id == team_id).values(event_seq=TEAM.c.event_seq + len(events))
        with self.database.writing() as connection:
            last = connection.scalar(raised.returning(TEAM.c.event_seq))
            if last is None:
                raise NotFound("team", team_id)
            first = last - len(events) + 1
            rows = [mapping.event_row(team_id, first + place, new) for place, new in enumerate(events)]
            connection.execute(EVENT.insert(), rows)
        return {row["id"]: row["seq"] for row in rows}

    def quarantine(self, team_id: str, events: Sequence[NewEvent], reason: str) -> None:
        """Keep bodies aside."""
        rows = [mapping.quarantine_row(team_id, new, reason) for new in events]
        if rows:
            with self.database.writing() as connection:
                connection.execute(insert(QUARANTINE).on_conflict_do_nothing(), rows)

    def n_quarantined(self, team_id: str) -> int:
        """Count what stands aside."""
        with self.database.reading() as connection:
            wanted = select(func.count()).select_from(QUARANTINE).where(QUARANTINE.c.team_id == team_id)
            return connection.scalar(wanted) or 0

    def events_after(self, team_id: str, seq: int, limit: int) -> list[PulledEvent]:
        """Read the next events of the team's sequence, raw, unfiltered."""
        wanted = select(EVENT.c.seq, EVENT.c.raw).where(EVENT.c.team_id == team_id, EVENT.c.seq > seq)
        return [mapping.pulled_event(dict(row)) for row in self._rows(wanted.order_by(EVENT.c.seq).limit(limit))]

    def event_keys(self, team_id: str) -> list[KnownEvent]:
        """List what identifies all events of the team, in sequence."""
        rows = self._rows(select(*KEYS).where(EVENT.c.team_id == team_id).order_by(EVENT.c.seq))
        return [mapping.known_event(dict(row)) for row in rows]

    def events_for_subject(self, team_id: str, subject_id: str) -> list[Event]:
        """Read all events about one subject, in sequence."""
        own = (EVENT.c.team_id == team_id, EVENT.c.subject_id == subject_id)
        rows = self._rows(select(EVENT.c.raw).where(*own).order_by(EVENT.c.seq))
        return [mapping.event_record(dict(row)) for row in rows]

    def events_for_team(self, team_id: str) -> list[Event]:
        """Read all events of the team, in sequence."""
        rows = self._rows(select(EVENT.c.raw).where(EVENT.c.team_id == team_id).order_by(EVENT.c.seq))
        return [mapping.event_record(dict(row)) for row in rows]
