"""
Entries that may be one bottle: same rider, kind and item, other author, close in time and volume.

The twin of ``pwa/src/core/twins.ts``; both read ``tests/sync/twin_vectors.json``. Shown as a range, linked by a tap,
taken apart by another; never merged alone.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import TypeVar

import msgspec

from brinebook.planning.fold import stamp
from brinebook.records.facts import Event

WINDOW_MS = 10 * 60_000
UNKNOWN_CLOCK_MS = 2 * 60_000
"""A phone that never heard the server's time may be this far off; common practice, no source."""
VOLUME_TOLERANCE_FRAC = 0.2
ROUNDING_L = 1e-9
"""Litres that differ by rounding alone are the same."""
NEIGHBOURS = 24
"""So many entries before and after are compared: no bottle has more twins, and a flood of entries stays cheap."""
KINDS = frozenset({"drank", "handed_up", "came_back", "poured", "lost", "ate"})
HOW_RANK = ("weighed", "counted", "count", "level", "recall")
"""What one person weighs or counts is better known than what another recalls."""
T = TypeVar("T")


class _Bottle(msgspec.Struct, frozen=True):
    drink_id: str | None = None
    food_id: str | None = None
    volume_l: float = 0.0
    left_l: float = 0.0
    n_bottles: float = 1.0
    n_units: float = 0.0
    how: str = ""


class _Pair(msgspec.Struct, frozen=True):
    a: str = ""
    b: str = ""


@dataclass(frozen=True)
class Twin:
    """Two entries that may be one; ``one`` is the better known, which a link keeps."""

    one: Event
    other: Event


@dataclass(frozen=True)
class _Entry:
    event: Event
    bottle: _Bottle

    @property
    def at_ms(self) -> int:
        return self.event.at_ms + (self.event.offset_ms or 0)

    @property
    def doubt_ms(self) -> int:
        return UNKNOWN_CLOCK_MS if self.event.offset_ms is None else 0

    @property
    def amount(self) -> float:
        """Litres, or units for food."""
        if self.event.kind == "ate":
            return self.bottle.n_units
        if self.event.kind == "came_back":
            return self.bottle.left_l
        return self.bottle.volume_l * (self.bottle.n_bottles if self.event.kind == "handed_up" else 1.0)

    @property
    def rank(self) -> int:
        return HOW_RANK.index(self.bottle.how) if self.bottle.how in HOW_RANK else len(HOW_RANK)

    @property
    def group(self) -> tuple[str, str, str, str]:
        event = self.event
        return event.subject_id, event.kind, event.stage_id or "", self.bottle.drink_id or self.bottle.food_id or ""


def _decoded(raw: msgspec.Raw, kind: type[T], otherwise: T) -> T:
    try:
        return msgspec.json.decode(raw, type=kind)
    except msgspec.DecodeError:
        return otherwise


def _entry(event: Event) -> _Entry:
    return _Entry(event, _decoded(event.body, _Bottle, _Bottle()))


def _may_be_one(a: _Entry, b: _Entry) -> bool:
    apart_ms = abs(a.at_ms - b.at_ms)
    tolerance = VOLUME_TOLERANCE_FRAC * max(a.amount, b.amount) + ROUNDING_L
    return (
        a.event.by != b.event.by and apart_ms <= WINDOW_MS + a.doubt_ms + b.doubt_ms
        and abs(a.amount - b.amount) <= tolerance
    )


def _said_to_be_two(events: Iterable[Event]) -> frozenset[frozenset[str]]:
    """Name the pairs that somebody has said are two bottles, by the latest word on each."""
    every = list(events)
    voided = {event.ref for event in every if event.kind == "void"}
    words = sorted((one for one in every if one.kind in {"link", "unlink"} and one.id not in voided), key=stamp)
    latest: dict[frozenset[str], str] = {}
    for word in words:
        pair = _decoded(word.body, _Pair, _Pair())
        latest[frozenset({pair.a, pair.b})] = word.kind
    return frozenset(pair for pair, kind in latest.items() if kind == "unlink")


def _ordered(a: _Entry, b: _Entry) -> Twin:
    first, second = sorted((a, b), key=lambda entry: (entry.rank, entry.at_ms, entry.event.id))
    return Twin(one=first.event, other=second.event)


def twins_of(live: Iterable[Event], events: Iterable[Event]) -> list[Twin]:
    """Find likely twins among the facts that count, nearest in time first; each fact is in one pair at most."""
    two = _said_to_be_two(events)
    groups: dict[tuple[str, str, str, str], list[_Entry]] = {}
    for entry in (_entry(event) for event in live if event.kind in KINDS):
        groups.setdefault(entry.group, []).append(entry)
    likely = sorted(
        (abs(a.at_ms - b.at_ms), " ".join(sorted((a.event.id, b.event.id))), _ordered(a, b))
        for group in groups.values() for a, b in _neighbours(group)
        if _may_be_one(a, b) and frozenset({a.event.id, b.event.id}) not in two
    ) if groups else []
    return _each_once([twin for _, _, twin in likely])


def _neighbours(group: list[_Entry]) -> Iterator[tuple[_Entry, _Entry]]:
    group = sorted(group, key=lambda entry: (entry.at_ms, entry.event.id))
    for place, entry in enumerate(group):
        for later in islice(group, place + 1, place + 1 + NEIGHBOURS):
            yield entry, later


def _each_once(likely: Sequence[Twin]) -> list[Twin]:
    used: set[str] = set()
    found: list[Twin] = []
    for twin in likely:
        ids = {twin.one.id, twin.other.id}
        if not ids & used:
            used |= ids
            found.append(twin)
    return found


def range_l(facts: Iterable[Event], twins: Iterable[Twin], kind: str) -> tuple[float, float]:
    """Return litres of one kind if all likely twins are one bottle each, and if none is."""
    mine = {fact.id: _entry(fact).amount for fact in facts if fact.kind == kind}
    high_l = sum(mine.values())
    doubled_l = sum(mine[twin.other.id] for twin in twins if twin.other.id in mine)
    return high_l - doubled_l, high_l
