"""Bottle facts of one rider and stage to litres and sodium, with the evidence they rest on."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import hypot, sqrt

from brinebook.engine.settle.intake import IntakeEstimate, IntakeFacts, drunk_from_facts
from brinebook.planning.books import B, Books, Fact
from brinebook.planning.strength import Mixed
from brinebook.planning.twins import Twin
from brinebook.records.common import Evidence
from brinebook.records.edited import Food
from brinebook.records.facts import Ate, Body, CameBack, Drank, HandedUp, Lost, Poured

EVIDENCE_OF_NOTE: dict[str, Evidence] = {"level": "tapped", "count": "counted", "recall": "recalled"}


@dataclass(frozen=True)
class Bottles:
    """All bottle facts of one rider and stage."""

    handed_up: tuple[Fact[HandedUp], ...]
    came_back: tuple[Fact[CameBack], ...]
    poured: tuple[Fact[Poured], ...]
    lost: tuple[Fact[Lost], ...]
    drank: tuple[Fact[Drank], ...]
    ate: tuple[Fact[Ate], ...]

    @property
    def keys(self) -> tuple[str, ...]:
        """Name every fact used."""
        every: tuple[tuple[Fact[Body], ...], ...] = (
            self.handed_up, self.came_back, self.poured, self.lost, self.drank, self.ate,  # type: ignore[assignment]
        )
        return tuple(fact.key for facts in every for fact in facts)

    @property
    def is_noted(self) -> bool:
        """Say whether anything tells what was drunk."""
        return bool(self.handed_up or self.drank)


def bottles_of(books: Books, rider_id: str, stage_id: str) -> Bottles:
    """Collect the bottle facts of one rider and stage."""
    return Bottles(
        handed_up=books.of_rider(rider_id, HandedUp, stage_id=stage_id),
        came_back=books.of_rider(rider_id, CameBack, stage_id=stage_id),
        poured=books.of_rider(rider_id, Poured, stage_id=stage_id),
        lost=books.of_rider(rider_id, Lost, stage_id=stage_id),
        drank=books.of_rider(rider_id, Drank, stage_id=stage_id),
        ate=books.of_rider(rider_id, Ate, stage_id=stage_id),
    )


def drunk(bottles: Bottles) -> IntakeEstimate:
    """Weigh what was derived from the bottles against what was noted."""
    return drunk_from_facts(IntakeFacts(
        handed_up_l=tuple(fact.body.n_bottles * fact.body.volume_l for fact in bottles.handed_up),
        came_back_l=tuple(fact.body.left_l for fact in bottles.came_back),
        came_back_evidence=tuple(fact.body.how for fact in bottles.came_back),
        poured_l=tuple(fact.body.volume_l for fact in bottles.poured),
        lost_l=tuple(fact.body.volume_l for fact in bottles.lost),
        noted_l=tuple(fact.body.volume_l for fact in bottles.drank),
        noted_evidence=tuple(EVIDENCE_OF_NOTE[fact.body.how] for fact in bottles.drank),
    ))


@dataclass(frozen=True)
class Doubt:
    """What was drunk if likely twins are one bottle each, and if none is; ``key`` names the pairs, for a basis."""

    low_l: float
    high_l: float
    key: str

    def within(self, said: IntakeEstimate) -> IntakeEstimate:
        """Propose the middle: neither counts a bottle twice in silence, nor drops one. Evenly likely between both."""
        middle_l, half_l = (self.low_l + self.high_l) / 2.0, (self.high_l - self.low_l) / 2.0
        return replace(said, proposed_l=middle_l, proposed_sd_l=hypot(said.proposed_sd_l, half_l / sqrt(3.0)))


def doubt_of(bottles: Bottles, twins: Iterable[Twin]) -> Doubt | None:
    """
    Say between which litres the drunk total lies [L]; None when no pair of notes may be one.

    A bottle handed up or drunk twice makes the total too high, one that came back, was poured or lost twice too low.
    """
    mine = {fact.event.id for facts in (bottles.handed_up, bottles.drank, *_takers(bottles)) for fact in facts}
    pairs = [(twin.one.id, twin.other.id) for twin in twins if {twin.one.id, twin.other.id} <= mine]
    if not pairs:
        return None
    lesser = frozenset(other for _, other in pairs)
    fewer_up = replace(bottles, handed_up=_less(bottles.handed_up, lesser), drank=_less(bottles.drank, lesser))
    ends = [
        drunk(replace(one, came_back=back, poured=poured, lost=lost)).proposed_l
        for one in (bottles, fewer_up)
        for back, poured, lost in (
            (one.came_back, one.poured, one.lost),
            (_less(one.came_back, lesser), _less(one.poured, lesser), _less(one.lost, lesser)),
        )
    ]
    return Doubt(low_l=min(ends), high_l=max(ends), key="twice:" + ",".join(sorted("+".join(pair) for pair in pairs)))


def _takers(bottles: Bottles) -> tuple[tuple[Fact[CameBack], ...], tuple[Fact[Poured], ...], tuple[Fact[Lost], ...]]:
    return bottles.came_back, bottles.poured, bottles.lost


def _less(facts: tuple[Fact[B], ...], ids: frozenset[str]) -> tuple[Fact[B], ...]:
    return tuple(fact for fact in facts if fact.event.id not in ids)


def total_l(facts: tuple[Fact[Poured], ...] | tuple[Fact[Lost], ...] | tuple[Fact[Drank], ...]) -> float:
    """Add up volumes."""
    return sum((fact.body.volume_l for fact in facts), 0.0)


def sodium_drunk_mg(bottles: Bottles, *, drunk_l: float, mixed: dict[str, Mixed], foods: dict[str, Food]) -> float:
    """Return the sodium swallowed: the litres that count, at the strength of what was kept, and the food eaten."""
    kept: dict[str, float] = {}
    for handed in bottles.handed_up:
        kept[handed.body.drink_id] = kept.get(handed.body.drink_id, 0.0) + handed.body.n_bottles * handed.body.volume_l
    for gone_id, gone_l in _gone(bottles):
        if gone_id in kept:
            kept[gone_id] = max(0.0, kept[gone_id] - gone_l)
    if not kept:
        for note in bottles.drank:
            kept[note.body.drink_id or ""] = kept.get(note.body.drink_id or "", 0.0) + note.body.volume_l
    kept_l = sum(kept.values())
    kept_mg = sum(volume_l * mixed[key].sodium_mg_per_l for key, volume_l in sorted(kept.items()) if key in mixed)
    eaten = ((foods.get(fact.body.food_id), fact.body.n_units) for fact in bottles.ate)
    eaten_mg = sum(food.sodium_mg * n_units for food, n_units in eaten if food is not None)
    return (drunk_l * kept_mg / kept_l if kept_l > 0.0 else 0.0) + eaten_mg


def _gone(bottles: Bottles) -> list[tuple[str | None, float]]:
    return [
        *((fact.body.drink_id, fact.body.left_l) for fact in bottles.came_back),
        *((fact.body.drink_id, fact.body.volume_l) for fact in bottles.poured),
        *((fact.body.drink_id, fact.body.volume_l) for fact in bottles.lost),
    ]
