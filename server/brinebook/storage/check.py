"""Whether a store is whole: no gap, no double, digests that are those of its events."""

from msgspec import Struct
from sqlalchemy import Connection, func, select, text

from brinebook.storage.database import Database
from brinebook.storage.errors import StoreDamaged
from brinebook.storage.sql_facts import DIGEST, ERASED_AS, EVENT, TEAM, id_digest

ROWS_AT_ONCE = 5000


class TeamCount(Struct, frozen=True, kw_only=True):
    """What a team's part of a store holds."""

    team_id: str
    n_events: int
    n_documents: int


def check_store(database: Database) -> list[TeamCount]:
    """Count each team's part, all in one state; raise ``StoreDamaged`` for the first thing that is wrong."""
    with database.reading() as connection:
        if connection.dialect.name == "sqlite":
            found = str(connection.scalar(text("PRAGMA integrity_check")))
            if found != "ok":
                raise StoreDamaged("file", "", found)
        rows = connection.execute(select(TEAM).order_by(TEAM.c.team_id)).mappings().all()
        return [_checked(connection, row["team_id"], row["event_seq"], row["document_seq"]) for row in rows]


def _checked(connection: Connection, team_id: str, event_seq: int, document_seq: int) -> TeamCount:
    own = EVENT.c.team_id == team_id
    counted = select(func.count(), func.coalesce(func.min(EVENT.c.seq), 1), func.coalesce(func.max(EVENT.c.seq), 0))
    n_events, first, last = connection.execute(counted.where(own)).one()
    if (n_events, first, last) != (event_seq, 1, event_seq):
        raise StoreDamaged("event", team_id, f"{n_events} events, {first} to {last}, where there should be {event_seq}")
    kept = select(DIGEST.c.subject_id, DIGEST.c.disclosed_as, DIGEST.c.n_events, DIGEST.c.xor64_hex)
    told = {(row[0], row[1]): (row[2], row[3]) for row in connection.execute(kept.where(DIGEST.c.team_id == team_id))}
    if told != _mixed(connection, team_id):
        raise StoreDamaged("event_digest", team_id, "digests are not those of the events")
    return TeamCount(team_id=team_id, n_events=n_events, n_documents=document_seq)


def _mixed(connection: Connection, team_id: str) -> dict[tuple[str, str], tuple[int, str]]:
    mixed: dict[tuple[str, str], tuple[int, int]] = {}
    wanted = select(EVENT.c.id, EVENT.c.subject_id, EVENT.c.disclosed_as).where(
        EVENT.c.team_id == team_id, EVENT.c.disclosed_as != ERASED_AS,
    )
    for id_, subject_id, disclosed_as in connection.execution_options(yield_per=ROWS_AT_ONCE).execute(wanted):
        n_events, xor64 = mixed.get((subject_id, disclosed_as), (0, 0))
        mixed[subject_id, disclosed_as] = (n_events + 1, xor64 ^ id_digest(id_))
    return {key: (n_events, f"{xor64:016x}") for key, (n_events, xor64) in mixed.items()}
