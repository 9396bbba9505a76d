"""What waits to be computed, and news between servers that share a database."""

from collections.abc import Sequence

from sqlalchemy import delete, func, select

from brinebook.storage.database import Database
from brinebook.storage.repository import Heads
from brinebook.storage.rows import table

WAITING, TEAM = table("pending_change"), table("team_counter")
_ALL_HEADS = select(TEAM.c.team_id, TEAM.c.event_seq, TEAM.c.document_seq, TEAM.c.erased_seq)


class SqlWaiting:
    """Implements ``Waiting``."""

    database: Database

    def add_waiting(self, team_id: str, changed: bytes) -> None:
        """Keep a change until it is computed."""
        with self.database.writing() as connection:
            connection.execute(WAITING.insert().values(team_id=team_id, changed=changed))

    def waiting(self, team_id: str) -> list[tuple[int, bytes]]:
        """List a team's waiting changes by number."""
        wanted = select(WAITING.c.n, WAITING.c.changed).where(WAITING.c.team_id == team_id).order_by(WAITING.c.n)
        with self.database.reading() as connection:
            return [(row[0], row[1]) for row in connection.execute(wanted)]

    def forget_waiting(self, team_id: str, numbers: Sequence[int]) -> None:
        """Forget changes that were computed."""
        own = (WAITING.c.team_id == team_id, WAITING.c.n.in_(list(numbers)))
        with self.database.writing() as connection:
            connection.execute(delete(WAITING).where(*own))

    def n_waiting(self) -> int:
        """Count waiting changes of all teams."""
        with self.database.reading() as connection:
            return connection.scalar(select(func.count()).select_from(WAITING)) or 0

    def all_heads(self) -> dict[str, Heads]:
        """Read the last numbers of all teams."""
        with self.database.reading() as connection:
            return {row[0]: Heads(*row[1:]) for row in connection.execute(_ALL_HEADS)}
