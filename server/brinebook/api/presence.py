"""Who has which cell of a table in hand, kept in memory and forgotten within a minute: a hint, never a lock."""

import threading
from collections.abc import Callable

from msgspec import Struct

FORGOTTEN_AFTER_MS = 30_000


class Place(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Where somebody is: a stage's table, and in it a rider's row and a column; empty ones mean nowhere yet."""

    stage_id: str
    rider_id: str = ""
    column: str = ""


class Present(Struct, frozen=True, kw_only=True):
    """Somebody else at the same table."""

    member_id: str
    name: str
    rider_id: str
    column: str


class Tables:
    """The tables of all teams; safe to use from any thread."""

    def __init__(self, now_ms: Callable[[], int]) -> None:
        self._now_ms = now_ms
        self._places: dict[tuple[str, str], tuple[int, str, Place]] = {}
        self._lock = threading.Lock()

    def sit(self, team_id: str, member: tuple[str, str], place: Place) -> list[Present]:
        """Note where a member (id, name) is; return who else of the team is at the same table."""
        now_ms = self._now_ms()
        member_id, name = member
        with self._lock:
            self._places[team_id, member_id] = (now_ms, name, place)
            self._places = {key: at for key, at in self._places.items() if now_ms - at[0] < FORGOTTEN_AFTER_MS}
            return [
                Present(member_id=other_id, name=other_name, rider_id=at.rider_id, column=at.column)
                for (team, other_id), (_, other_name, at) in sorted(self._places.items())
                if team == team_id and other_id != member_id and at.stage_id == place.stage_id
            ]
