"""Answers, wishes and the age of facts in SQL."""

from collections.abc import Collection

from msgspec.structs import asdict
from sqlalchemy import ColumnElement, Connection, delete, func, select

from brinebook.storage.database import Database
from brinebook.storage.personal import Answer, Counts, MonthsSet, Wish
from brinebook.storage.rows import table
from brinebook.storage.sql_erasure import NOTHING, subject_of
from brinebook.storage.sql_facts import DIGEST, ERASED_AS, EVENT, QUARANTINE, TEAM, id_digest
from brinebook.storage.upsert import put, put_once

ANSWER, WISH, DOCUMENT, MONTHS = (
    table(name) for name in ("notice_answer", "erasure_wish", "document", "kept_months")
)
IDS_AT_ONCE = 500


class SqlPersonal:
    """Implements ``Personal``; the time of the last fact is told by ``SqlFacts``."""

    database: Database

    def add_answer(self, team_id: str, answer: Answer) -> None:
        """Keep an answer beside the earlier ones."""
        with self.database.writing() as connection:
            connection.execute(ANSWER.insert(), [{"team_id": team_id, **asdict(answer)}])

    def answers(self, team_id: str, member_id: str | None = None) -> list[Answer]:
        """List the answers of a member, or of all, the oldest first."""
        columns = [ANSWER.c[name] for name in Answer.__struct_fields__]
        wanted = select(*columns).where(ANSWER.c.team_id == team_id).order_by(ANSWER.c.at_ms, ANSWER.c.id)
        if member_id is not None:
            wanted = wanted.where(ANSWER.c.member_id == member_id)
        with self.database.reading() as connection:
            return [Answer(**row) for row in connection.execute(wanted).mappings()]

    def put_wish(self, wish: Wish) -> None:
        """Keep a wish; an earlier one of the same person is replaced."""
        with self.database.writing() as connection:
            put(connection, WISH, [asdict(wish)])

    def wish(self, team_id: str, subject_id: str) -> Wish | None:
        """Read a person's wish."""
        return next((one for one in self.wishes() if (one.team_id, one.subject_id) == (team_id, subject_id)), None)

    def wishes(self) -> list[Wish]:
        """List the wishes of all teams."""
        with self.database.reading() as connection:
            return [Wish(**row) for row in connection.execute(select(WISH).order_by(*WISH.primary_key)).mappings()]

    def forget_wish(self, team_id: str, subject_id: str) -> None:
        """Forget a wish that was taken back."""
        with self.database.writing() as connection:
            connection.execute(delete(WISH).where(WISH.c.team_id == team_id, WISH.c.subject_id == subject_id))

    def months_set(self, team_id: str | None = None) -> list[MonthsSet]:
        """List what a team, or every team, has set, the oldest first."""
        wanted = select(MONTHS).order_by(MONTHS.c.at_ms, MONTHS.c.id)
        if team_id is not None:
            wanted = wanted.where(MONTHS.c.team_id == team_id)
        with self.database.reading() as connection:
            return [MonthsSet(**row) for row in connection.execute(wanted).mappings()]

    def set_months(self, wanted: MonthsSet) -> None:
        """Keep how long a sort of facts is kept."""
        with self.database.writing() as connection:
            put_once(connection, MONTHS, [asdict(wanted)])

    def counts_about(self, team_id: str, ids: Collection[str]) -> Counts:
        """Count what is held about somebody."""
        facts = select(EVENT.c.kind, func.count()).where(EVENT.c.team_id == team_id, EVENT.c.subject_id.in_(ids))
        documents = select(DOCUMENT.c.type, func.count()).where(
            DOCUMENT.c.team_id == team_id, DOCUMENT.c.subject_id.in_(ids), DOCUMENT.c.body.is_not(None),
        )
        with self.database.reading() as connection:
            by_kind = {row[0]: row[1] for row in connection.execute(facts.group_by(EVENT.c.kind))}
            by_type = {row[0]: row[1] for row in connection.execute(documents.group_by(DOCUMENT.c.type))}
        return Counts(facts=by_kind, documents=by_type, n_aside=len(self.aside_about(team_id, ids)))

    def aside_about(self, team_id: str, ids: Collection[str]) -> list[bytes]:
        """Read the bodies that stand aside and are about somebody."""
        wanted = select(QUARANTINE.c.raw).where(QUARANTINE.c.team_id == team_id).order_by(QUARANTINE.c.n)
        with self.database.reading() as connection:
            return [bytes(raw) for raw in connection.scalars(wanted) if subject_of(raw) in ids]

    def older_facts(self, team_id: str, kinds: Collection[str], before_ms: int, *, is_other: bool) -> dict[str, int]:
        """Count facts by kind, taken in before an instant."""
        wanted = select(EVENT.c.disclosed_as, func.count()).where(*_older(team_id, kinds, before_ms, is_other=is_other))
        with self.database.reading() as connection:
            return {row[0]: row[1] for row in connection.execute(wanted.group_by(EVENT.c.disclosed_as))}

    def older_bodies(self, team_id: str, kind: str, before_ms: int) -> list[bytes]:
        """Read the facts of a kind that were taken in before an instant."""
        wanted = select(EVENT.c.raw).where(*_older(team_id, [kind], before_ms, is_other=False))
        with self.database.reading() as connection:
            return list(connection.scalars(wanted))

    def let_go(self, team_id: str, kinds: Collection[str], before_ms: int, *, is_other: bool) -> int:
        """Let go of the content of such facts; what they were corrected by goes by the same kind."""
        wanted = select(EVENT.c.id, EVENT.c.subject_id, EVENT.c.disclosed_as).where(
            *_older(team_id, kinds, before_ms, is_other=is_other),
        )
        with self.database.writing() as connection:
            # The counter's lock is taken first, as by every writer of digests.
            connection.execute(TEAM.update().where(TEAM.c.team_id == team_id).values(computed_seq=-1))
            rows = connection.execute(wanted).all()
            ids = [row[0] for row in rows]
            for start in range(0, len(ids), IDS_AT_ONCE):
                part = ids[start:start + IDS_AT_ONCE]
                own = (EVENT.c.team_id == team_id, EVENT.c.id.in_(part))
                connection.execute(EVENT.update().where(*own).values(**NOTHING))
            _lower_digests(connection, team_id, [(row[0], (row[1], row[2])) for row in rows])
        return len(ids)

    def let_go_aside(self, team_id: str, before_ms: int) -> int:
        """Let go of what has stood aside since before an instant."""
        old = (QUARANTINE.c.team_id == team_id, QUARANTINE.c.received_at_ms < before_ms)
        with self.database.writing() as connection:
            return connection.execute(delete(QUARANTINE).where(*old)).rowcount


def _older(
    team_id: str, kinds: Collection[str], before_ms: int, *, is_other: bool,
) -> tuple[ColumnElement[bool], ...]:
    of_kind = EVENT.c.disclosed_as.in_(list(kinds))
    return (
        EVENT.c.team_id == team_id, EVENT.c.disclosed_as != ERASED_AS, EVENT.c.received_at_ms < before_ms,
        ~of_kind if is_other else of_kind,
    )


def _lower_digests(connection: Connection, team_id: str, gone: list[tuple[str, tuple[str, str]]]) -> None:
    """Take ids out of the digests they were counted in; one that counts nothing any more goes."""
    taken: dict[tuple[str, str], tuple[int, int]] = {}
    for id_, key in gone:
        n_events, xor64 = taken.get(key, (0, 0))
        taken[key] = (n_events + 1, xor64 ^ id_digest(id_))
    for (subject_id, disclosed_as), (n_events, xor64) in sorted(taken.items()):
        own = (DIGEST.c.team_id == team_id, DIGEST.c.subject_id == subject_id, DIGEST.c.disclosed_as == disclosed_as)
        kept = connection.execute(select(DIGEST.c.n_events, DIGEST.c.xor64_hex).where(*own)).one()
        if kept[0] == n_events:
            connection.execute(delete(DIGEST).where(*own))
        else:
            left = {"n_events": kept[0] - n_events, "xor64_hex": f"{int(kept[1], 16) ^ xor64:016x}"}
            connection.execute(DIGEST.update().where(*own).values(**left))
