"""Facts to state, order-free: void grow-only, amend per field by (lamport, id), linked twins count once."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TypeVar

import msgspec

from brinebook.records.facts import Event

CORRECTIONS = frozenset({"amend", "void", "link", "unlink"})
Stamp = tuple[int, str]
T = TypeVar("T")


class _Amend(msgspec.Struct, frozen=True):
    """The part of an amend the fold reads; values stay raw so that any field of any kind can be set."""

    set: dict[str, msgspec.Raw] = {}


class _Link(msgspec.Struct, frozen=True):
    """The part of a link or unlink the fold reads."""

    a: str = ""
    b: str = ""
    keep: str = ""


@dataclass(frozen=True)
class Folded:
    """``live`` holds the facts that count, amended, in id order; ``ignored`` the voided ones and the lesser twins."""

    live: dict[str, Event]
    ignored: frozenset[str]


def stamp(event: Event) -> Stamp:
    """Give the place of an event in the one order all replicas agree on."""
    return (event.lamport, event.id)


def fold(events: Iterable[Event]) -> Folded:
    """Fold facts into the state they describe; any order, repetition or batching gives the same answer."""
    by_id = {event.id: event for event in events}
    voided = {event.ref for event in by_id.values() if event.kind == "void" and event.ref}
    active = [event for event in by_id.values() if event.id not in voided]
    facts = {event.id: event for event in active if event.kind not in CORRECTIONS}
    twins = _lesser_twins(active, frozenset(facts))
    amends = _winning_fields(active)
    live = {key: _amended(facts[key], amends.get(key, {})) for key in sorted(facts) if key not in twins}
    taken_back = {key for key in voided if key in by_id and by_id[key].kind not in CORRECTIONS}
    return Folded(live=live, ignored=frozenset(taken_back | twins))


def _decoded(raw: msgspec.Raw, kind: type[T]) -> T | None:
    try:
        return msgspec.json.decode(raw, type=kind)
    except msgspec.DecodeError:
        return None


def _winning_fields(active: list[Event]) -> dict[str, dict[str, msgspec.Raw]]:
    won: dict[str, dict[str, msgspec.Raw]] = {}
    for event in sorted((event for event in active if event.kind == "amend" and event.ref), key=stamp):
        amend = _decoded(event.body, _Amend)
        if amend is not None and event.ref is not None:
            won.setdefault(event.ref, {}).update(amend.set)
    return won


def _amended(event: Event, fields: dict[str, msgspec.Raw]) -> Event:
    if not fields:
        return event
    body = _decoded(event.body, dict[str, msgspec.Raw]) or {}
    return msgspec.structs.replace(event, body=msgspec.Raw(msgspec.json.encode({**body, **fields})))


def _links_in_force(active: list[Event], facts: frozenset[str]) -> list[tuple[Stamp, _Link]]:
    latest: dict[frozenset[str], tuple[Stamp, str, _Link]] = {}
    for event in sorted((event for event in active if event.kind in {"link", "unlink"}), key=stamp):
        link = _decoded(event.body, _Link)
        if link is not None:
            latest[frozenset({link.a, link.b})] = (stamp(event), event.kind, link)
    return sorted(
        ((at, link) for at, kind, link in latest.values() if kind == "link" and {link.a, link.b} <= facts),
        key=lambda pair: pair[0],
    )


def _lesser_twins(active: list[Event], facts: frozenset[str]) -> set[str]:
    """Join linked facts; of each group only the fact kept by the latest link counts, or else the smallest id."""
    links = _links_in_force(active, facts)
    group: dict[str, set[str]] = {}
    for _, link in links:
        joined = group.get(link.a, {link.a}) | group.get(link.b, {link.b})
        group.update(dict.fromkeys(joined, joined))
    kept = {min(members) for members in group.values()}
    for _, link in links:
        if link.keep in group[link.a]:
            kept = (kept - group[link.a]) | {link.keep}
    return set(group) - kept
