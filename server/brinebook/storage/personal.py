"""What a person answered and asked for, what is held about a person, and how old facts go: the contract of storage."""

from collections.abc import Collection, Mapping
from typing import Protocol

from msgspec import Struct


class Answer(Struct, frozen=True, kw_only=True):
    """What a person said to one version of a notice, and when. Answers are added, never changed."""

    id: str
    member_id: str
    notice: str
    version: int
    is_agreed: bool
    at_ms: int


class Wish(Struct, frozen=True, kw_only=True):
    """A person's wish to be forgotten; carried out once ``due_at_ms`` is past, unless taken back."""

    team_id: str
    subject_id: str
    asked_at_ms: int
    due_at_ms: int


class MonthsSet(Struct, frozen=True, kw_only=True):
    """A team keeps a sort of facts so many months from ``from_ms`` on; said at ``at_ms``."""

    team_id: str
    id: str
    sort: str
    months: int
    at_ms: int
    from_ms: int


class Counts(Struct, frozen=True, kw_only=True):
    """How many facts by kind and documents by type are about somebody, and what stands aside."""

    facts: Mapping[str, int]
    documents: Mapping[str, int]
    n_aside: int


class Personal(Protocol):
    """Answers, wishes, counts, and letting go of what was kept long enough."""

    def add_answer(self, team_id: str, answer: Answer) -> None:
        """Keep an answer beside the earlier ones."""

    def answers(self, team_id: str, member_id: str | None = None) -> list[Answer]:
        """List the answers of a member, or of all, the oldest first."""

    def put_wish(self, wish: Wish) -> None:
        """Keep a wish; an earlier one of the same person is replaced."""

    def wish(self, team_id: str, subject_id: str) -> Wish | None:
        """Read a person's wish."""

    def wishes(self) -> list[Wish]:
        """List the wishes of all teams."""

    def forget_wish(self, team_id: str, subject_id: str) -> None:
        """Forget a wish that was taken back."""

    def months_set(self, team_id: str | None = None) -> list[MonthsSet]:
        """List what a team, or every team, has set, the oldest first."""

    def set_months(self, wanted: MonthsSet) -> None:
        """Keep how long a sort of facts is kept, beside what was set before."""

    def counts_about(self, team_id: str, ids: Collection[str]) -> Counts:
        """Count what is held about somebody."""

    def aside_about(self, team_id: str, ids: Collection[str]) -> list[bytes]:
        """Read the bodies that stand aside and are about somebody."""

    def older_facts(self, team_id: str, kinds: Collection[str], before_ms: int, *, is_other: bool) -> dict[str, int]:
        """Count facts by kind, taken in before an instant; with ``is_other`` those of every kind but these."""

    def older_bodies(self, team_id: str, kind: str, before_ms: int) -> list[bytes]:
        """Read the facts of a kind that were taken in before an instant, corrections of them included."""

    def let_go(self, team_id: str, kinds: Collection[str], before_ms: int, *, is_other: bool) -> int:
        """Let go of the content of such facts; their number, id and kind stay. Return how many."""

    def let_go_aside(self, team_id: str, before_ms: int) -> int:
        """Let go of what has stood aside since before an instant."""

    def last_received_ms(self) -> int:
        """Tell when the latest fact of any team came in; 0 when there is none."""

