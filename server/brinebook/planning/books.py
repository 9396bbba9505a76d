"""A team's records in hand: edited records, folded facts per rider, and where the race stands."""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Generic, TypeVar

import msgspec

from brinebook.planning.fold import fold, stamp
from brinebook.planning.twins import Twin, twins_of
from brinebook.records.edited import Drink, Edited, Food, Kit, PlanGoals, Rider, RiderBody, RiderPalate, Stage, Supply
from brinebook.records.facts import BODY_BY_KIND, Body, Event, MixCheck
from brinebook.storage.mapping import TYPE_NAMES
from brinebook.storage.repository import Eyes, Repository, StoredDocument

DERIVED_TYPES = frozenset({
    "profile", "stage_forecast", "stage_plan", "settlement", "settlement_summary", "evening_drink", "forecast_audit",
    "prep_sheet", "stock", "bottle_sheet", "plan_summary", "forecast_summary",
})
KIT_ID = "kit"
GOALS_ID = "goals"
HALF_DAY_MS = 43_200_000
B = TypeVar("B", bound=Body)
E = TypeVar("E", bound=Edited)


@dataclass(frozen=True)
class Fact(Generic[B]):
    """A live fact with its decoded body."""

    event: Event
    body: B

    @property
    def key(self) -> str:
        """Name the fact and its amended content, for a basis."""
        return f"{self.event.id}#{digest(bytes(self.event.body))}"


@dataclass(frozen=True)
class Books:
    """Everything planning reads of one team."""

    team_id: str
    riders: dict[str, Rider]
    bodies: dict[str, RiderBody]
    drinks: tuple[Drink, ...]
    foods: dict[str, Food]
    supplies: dict[str, Supply]
    palates: dict[str, RiderPalate]
    kit: Kit
    stages: tuple[Stage, ...]
    facts: tuple[Fact[Body], ...]
    stored: dict[str, StoredDocument]
    twins: tuple[Twin, ...] = ()
    """Pairs of facts that may be one bottle, noted twice."""
    goals: PlanGoals | None = None
    """None until somebody weighs the goals otherwise than by default."""

    @cached_property
    def index_of_stage(self) -> dict[str, int]:
        """Return the place of each stage in race order."""
        return {stage.id: index for index, stage in enumerate(self.stages)}

    @cached_property
    def now(self) -> int:
        """Return the index of the last stage with a weighing or an agreed figure; -1 before the race."""
        places = (
            self.index_of_stage.get(fact.event.stage_id or "", -1)
            for fact in self.facts if fact.event.kind in {"weighed", "agreed"}
        )
        return max(places, default=-1)

    @cached_property
    def _by_rider_and_kind(self) -> dict[tuple[str, type[Body]], list[Fact[Body]]]:
        grouped: dict[tuple[str, type[Body]], list[Fact[Body]]] = {}
        for fact in sorted(self.facts, key=lambda fact: (fact.event.at_ms, fact.event.id)):
            grouped.setdefault((fact.event.subject_id, type(fact.body)), []).append(fact)
        return grouped

    def of_rider(self, rider_id: str, kind: type[B], *, stage_id: str | None = None) -> tuple[Fact[B], ...]:
        """Return one rider's live facts of one kind, by time, of one stage or of all."""
        return tuple(
            Fact(fact.event, fact.body) for fact in self._by_rider_and_kind.get((rider_id, kind), ())
            if stage_id in {None, fact.event.stage_id} and isinstance(fact.body, kind)
        )

    @cached_property
    def mix_checks(self) -> dict[str, Fact[MixCheck]]:
        """Return the latest check of each drink's batch."""
        return self.mix_checks_until(len(self.stages))

    def mix_checks_until(self, place: int) -> dict[str, Fact[MixCheck]]:
        """Return the latest check of each drink's batch made on a stage or before it."""
        checks = [
            Fact(fact.event, fact.body) for fact in self.facts
            if isinstance(fact.body, MixCheck) and self._place_of(fact.event) <= place
        ]
        return {fact.body.drink_id: fact for fact in sorted(checks, key=lambda fact: stamp(fact.event))}

    def _place_of(self, event: Event) -> int:
        """Return the stage a team-wide fact belongs to: the one it names, or the next to finish."""
        named = self.index_of_stage.get(event.stage_id or "")
        if named is not None:
            return named
        ahead = (index for index, stage in enumerate(self.stages) if stage.start_at_ms + HALF_DAY_MS > event.at_ms)
        return next(ahead, len(self.stages))

    @cached_property
    def race_days(self) -> tuple[int, ...]:
        """Return the indices of stages that are raced: neither a rest day nor without a course or a forecast."""
        return tuple(index for index, stage in enumerate(self.stages) if is_raced(stage))


def is_raced(stage: Stage) -> bool:
    """Say whether a stage can be forecast."""
    return stage.kind != "rest" and len(stage.course) > 1 and bool(stage.forecast)


def digest(data: bytes) -> str:
    """Return the first 12 hex digits of the sha256 of some bytes."""
    return hashlib.sha256(data).hexdigest()[:12]


def record_key(kind: str, record: Edited) -> str:
    """Name an edited record, its version and its content, for a basis."""
    return f"{kind}:{record.id}@{record.version}#{digest(msgspec.json.encode(record))}"


def seen_records(repository: Repository, team_id: str, type_: type[E]) -> list[E]:
    """Read edited records as phones get them; inside somebody's snapshot these are the ones he may see."""
    found = repository.documents(team_id, TYPE_NAMES[type_])
    return [msgspec.json.decode(one.body, type=type_) for one in found if one.body is not None]


def open_books(repository: Repository, team_id: str, eyes: Eyes | None = None) -> Books:
    """
    Read a team's records in one snapshot and fold its facts.

    With ``eyes``, what answers a person: records and facts then pass the database's own filter, too. Whole courses are
    read beside it: everybody may see a stage, and phones have it thinned.
    """
    stages = repository.all_edited(team_id, Stage)
    with repository.snapshot(eyes):
        facts, twins = _typed(repository.events_for_team(team_id))

        def read(type_: type[E]) -> list[E]:
            if eyes is None:
                return repository.all_edited(team_id, type_)
            return seen_records(repository, team_id, type_)

        return Books(
            team_id=team_id,
            riders={rider.id: rider for rider in read(Rider)},
            bodies={body.id: body for body in read(RiderBody)},
            drinks=tuple(read(Drink)),
            foods={food.id: food for food in read(Food)},
            supplies={supply.id: supply for supply in read(Supply)},
            palates={palate.id: palate for palate in read(RiderPalate)},
            kit=next(iter(read(Kit)), Kit(id=KIT_ID)),
            goals=next(iter(read(PlanGoals)), None),
            stages=tuple(sorted(stages, key=lambda stage: (stage.day_index, stage.number, stage.id))),
            facts=facts,
            twins=twins,
            stored=_stored(repository, team_id),
        )


def _stored(repository: Repository, team_id: str) -> dict[str, StoredDocument]:
    return {
        document.id: document
        for kind in sorted(DERIVED_TYPES) for document in repository.documents(team_id, kind)
        if document.body is not None
    }


def _typed(events: Sequence[Event]) -> tuple[tuple[Fact[Body], ...], tuple[Twin, ...]]:
    original = {event.id: event for event in events}
    counted = list(_uncontested(list(fold(events).live.values())))
    bodies = ((event, _body(event) or _body(original[event.id])) for event in counted)
    facts = tuple(Fact(event, body) for event, body in bodies if body is not None)
    return facts, tuple(twins_of(counted, events))


def _uncontested(events: list[Event]) -> Iterable[Event]:
    """Leave out entries a rider says are not his; they stay in the log and staff see them there."""
    contested = {event.ref for event in events if event.kind == "contested" and event.ref}
    return (event for event in events if event.id not in contested)


def _body(event: Event) -> Body | None:
    """Decode a body; an amend that made it impossible is passed over by the caller, not fatal."""
    kind = BODY_BY_KIND.get(event.kind)
    try:
        return None if kind is None else msgspec.json.decode(event.body, type=kind)
    except msgspec.ValidationError:
        return None
