"""What a computation brought that somebody should look at: a stage to settle, a weighing to repeat, a red flag."""

from collections.abc import Iterator

import msgspec

from brinebook.access.roles import BODY_READERS, PLANNERS
from brinebook.jobs.wakeups import WakeUps
from brinebook.push.sender import Sentence
from brinebook.records.common import Role
from brinebook.records.derived import Flag
from brinebook.storage.repository import Repository, StoredDocument

PAGE = 200
RED = frozenset({"medical", "stop"})
WEIGH_AGAIN = "weigh_again"
SCALES: frozenset[Role] = BODY_READERS | {"soigneur"}
ROLES: dict[Sentence, frozenset[Role]] = {
    Sentence.SETTLE: PLANNERS, Sentence.WEIGH: SCALES, Sentence.FLAG: BODY_READERS,
}


class _Seen(msgspec.Struct, frozen=True):
    """As much of a derived record as decides whether to wake anybody."""

    flags: list[Flag] = []
    state: str = ""
    stage_id: str = ""


class News:
    """Wakes the roles concerned, once per thing; what it told is remembered until the server stops."""

    def __init__(self, repository: Repository, wakeups: WakeUps) -> None:
        self._repository = repository
        self._wakeups = wakeups
        self._told: set[tuple[str, str, Sentence]] = set()

    def tell(self, team_id: str, since: int) -> None:
        """Look through the documents a computation moved past ``since`` and wake for what is new in them."""
        for row in self._changed(team_id, since):
            for what, sentence in _events_in(row):
                if (team_id, what, sentence) not in self._told:
                    self._told.add((team_id, what, sentence))
                    self._wakeups.wake_roles(team_id, ROLES[sentence], sentence)

    def _changed(self, team_id: str, since: int) -> Iterator[StoredDocument]:
        while rows := self._repository.documents_after(team_id, since, PAGE):
            yield from rows
            since = rows[-1].seq


def _events_in(row: StoredDocument) -> Iterator[tuple[str, Sentence]]:
    if row.body is None:
        return
    seen = msgspec.json.decode(row.body, type=_Seen)
    if row.type == "settlement" and seen.state == "proposed":
        yield seen.stage_id, Sentence.SETTLE
    for flag in seen.flags:
        if flag.code == WEIGH_AGAIN:
            yield row.id, Sentence.WEIGH
        elif flag.severity in RED:
            yield f"{row.id} {flag.code}", Sentence.FLAG
