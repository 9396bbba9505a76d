"""
How long facts are kept, by sort, in months since the server took them in.

Common practice, no source: long enough to compare two seasons, medical notes for one. A team may set other months
between a floor and a ceiling. Longer holds at once; shorter is an admin's, holds only after ``WAIT_DAYS``, is shown to
everybody until then, and may be taken back by a physiologist or the doctor: nobody deletes a history unseen. A
correction is kept as long as what it corrects. A physician's own records lie elsewhere, under a law of their own.
"""

from collections.abc import Iterable, Mapping
from types import MappingProxyType

from msgspec import Struct

from brinebook import clock
from brinebook.access import ledger
from brinebook.access.devices import DAY_MS, SignedIn
from brinebook.access.errors import MonthsImpossible, NotYours
from brinebook.access.roles import BODY_READERS
from brinebook.storage.errors import NotFound
from brinebook.storage.personal import MonthsSet
from brinebook.storage.repository import Repository

MONTH_MS = 30.4375 * 24 * 3_600_000
WAIT_DAYS = 30
ASIDE_MONTHS = 6
"""What stands aside for review."""


class Sort(Struct, frozen=True, kw_only=True):
    """Kinds that are kept equally long: months of the release, the fewest and the most a team may set."""

    kinds: tuple[str, ...]
    months: int
    least: int
    most: int


SORTS: Mapping[str, Sort] = MappingProxyType({
    "road": Sort(
        kinds=("drank", "handed_up", "came_back", "poured", "lost", "ate", "agreed", "reopened", "acknowledged",
               "contested", "collection_booked", "team_count"), months=24, least=6, most=36,
    ),
    "body": Sort(
        kinds=("weighed", "morning_check", "sweat_sample", "weighed_ride", "ridden"), months=24, least=6, most=36,
    ),
    "medical": Sort(kinds=("symptom", "note"), months=12, least=6, most=24),
    "kitchen": Sort(kinds=("mix_check", "calibrated"), months=24, least=6, most=36),
    "shelf": Sort(kinds=("stock_counted", "delivered", "sheet_printed"), months=6, least=3, most=24),
})
OTHER_SORT = "medical"
"""A kind from a newer version may be medical, so it is kept as if it were."""
OTHER_MONTHS = SORTS[OTHER_SORT].months
KEPT_MONTHS: Mapping[str, int | None] = MappingProxyType({
    **{kind: sort.months for sort in SORTS.values() for kind in sort.kinds},
    # These hold nothing of anybody; phones need the first for ever.
    "erase": None, "erased": None,
})


class Kept(Struct, frozen=True, kw_only=True):
    """How long a team keeps a sort now, what is to come and from when, and between which ends it may be set."""

    sort: str
    months: int
    next_months: int | None
    next_from_ms: int | None
    least: int
    most: int


def before_ms(months: int, now_ms: int) -> int:
    """Give the instant before which something kept so long goes."""
    return int(now_ms - months * MONTH_MS)


def _kept(name: str, sets: Iterable[MonthsSet], now_ms: int) -> Kept:
    """Go through what was set in order: a newer word takes the place of one that does not hold yet."""
    sort, months, coming = SORTS[name], SORTS[name].months, None
    for one in (one for one in sets if one.sort == name):
        if coming is not None and coming.from_ms <= one.at_ms:
            months = coming.months
        coming = one
    if coming is not None and coming.from_ms <= now_ms:
        months, coming = coming.months, None
    return Kept(
        sort=name, months=months, least=sort.least, most=sort.most,
        next_months=None if coming is None else coming.months, next_from_ms=None if coming is None else coming.from_ms,
    )


def kept(repository: Repository, team_id: str, *, now_ms: int) -> list[Kept]:
    """Tell how long a team keeps each sort."""
    sets = repository.months_set(team_id)
    return [_kept(name, sets, now_ms) for name in SORTS]


def months_by_kind(repository: Repository, team_id: str, *, now_ms: int) -> dict[str, int | None]:
    """Tell how long a team keeps each kind; "" stands for kinds nobody knows."""
    by_sort = {one.sort: one.months for one in kept(repository, team_id, now_ms=now_ms)}
    by_kind: dict[str, int | None] = {kind: by_sort[name] for name, sort in SORTS.items() for kind in sort.kinds}
    return {**KEPT_MONTHS, **by_kind, "": by_sort[OTHER_SORT]}


def set_months(repository: Repository, who: SignedIn, name: str, months: int) -> list[Kept]:
    """
    Set how long a sort is kept.

    Raises ``NotFound`` for a sort nobody knows, ``MonthsImpossible`` beyond floor or ceiling, ``NotYours``.
    """
    sort = SORTS.get(name)
    if sort is None:
        raise NotFound("sort", name[:40])
    if not sort.least <= months <= sort.most:
        raise MonthsImpossible("months", str(months), f"{sort.least} to {sort.most} months for {name}")
    now_ms = clock.now_ms()
    with repository.transaction():
        repository.hold(who.team_id)
        present = _kept(name, repository.months_set(who.team_id), now_ms)
        is_shorter = months < present.months
        if who.member.role != "admin" and (is_shorter or who.member.role not in BODY_READERS):
            raise NotYours("role", who.member.role)
        repository.set_months(MonthsSet(
            team_id=who.team_id, id=clock.new_id(), sort=name, months=months, at_ms=now_ms,
            from_ms=now_ms + WAIT_DAYS * DAY_MS if is_shorter else now_ms,
        ))
        noted = ledger.did(who, "months_set", what=f"{name}: {present.months} to {months}")
        ledger.note(repository, who.team_id, [noted])
    return kept(repository, who.team_id, now_ms=now_ms)
