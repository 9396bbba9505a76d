"""One rider's stage as it happened on the road, and what of it anybody wrote down."""

import random
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any, Literal

from seed_demo.pantry import DRINKS, FOODS
from seed_demo.physiology import StageTruth
from seed_demo.race import StageCard
from seed_demo.trouble import (
    ABOVE_LOSSES_SHARE,
    DRY_SHARE,
    WEAK_DRINK_ID,
    WEAK_SODIUM_MG_PER_L,
    has_trouble,
)

Hand = Literal["rider", "soigneur", "car"]
HOUR_MS = 3_600_000.0
MISSED_HAND_UP, LOST, FORGOTTEN, CAME_BACK, POURED_HOT = 0.05, 0.03, 0.06, 0.12, 0.25
"""Shares of bottles: hand-up failed, lost, not noted by whoever should, brought back part full, poured on a hot day."""
MAX_EXTRA_BOTTLES = 8
DRINK = {drink["id"]: drink for drink in DRINKS}
FOOD = {food["id"]: food for food in FOODS}


@dataclass(frozen=True)
class Deed:
    """A fact somebody wrote down: which hand held the phone, when, what."""

    hand: Hand
    kind: str
    at_ms: int
    body: dict[str, Any]


@dataclass
class Ridden:
    """What truly went in, and the facts that were noted of it."""

    drunk_l: float = 0.0
    sodium_mg: float = 0.0
    poured_l: float = 0.0
    food_kg: float = 0.0
    n_bottles: int = 0
    n_unnoted: int = 0
    deeds: list[Deed] = field(default_factory=list)


class Road:
    """The stage of one rider, bottle by bottle."""

    def __init__(self, stage: StageCard, rider_id: str, truth: StageTruth) -> None:
        self._stage = stage
        self._rider_id = rider_id
        self._truth = truth
        self._rng = random.Random(f"road-{stage.number}-{rider_id}")
        self._notes_nothing = self._has("logs_nothing")
        self.ridden = Ridden()

    def _has(self, kind: Literal["above_losses", "logs_nothing", "weak_mix", "dry_days"]) -> bool:
        return has_trouble(kind, self._rider_id, self._stage.number)

    def _at_ms(self, km: float) -> int:
        share = min(1.0, km / self._stage.length_km)
        return self._stage.start_at_ms + int(share * self._truth.duration_h * HOUR_MS)

    def _chance(self, share: float) -> bool:
        return self._rng.random() < share

    def _note(self, hand: Hand, kind: str, km: float, body: dict[str, Any]) -> None:
        if self._notes_nothing or self._chance(FORGOTTEN):
            self.ridden.n_unnoted += 1
            return
        self.ridden.deeds.append(Deed(hand, kind, self._at_ms(km), body))

    def _sodium_mg(self, drink_id: str, volume_l: float) -> float:
        label: float = DRINK[drink_id]["sodium_mg_per_l"]
        is_weak = drink_id == WEAK_DRINK_ID and self._has("weak_mix")
        return volume_l * (WEAK_SODIUM_MG_PER_L if is_weak else label)

    def _bottle(self, drink_id: str, km: float, until_km: float, hand: Hand) -> None:
        full_l: float = DRINK[drink_id]["bottle_l"]
        self.ridden.n_bottles += 1
        body = {"n_bottles": 1, "volume_l": full_l, "drink_id": drink_id, "feed_km": round(km, 1)}
        self._note(hand, "handed_up", km, body)
        left_l = full_l
        if self._chance(LOST):
            lost_l = round(self._rng.uniform(0.2, 1.0) * full_l, 2)
            left_l -= lost_l
            self._note("rider", "lost", until_km, {"volume_l": lost_l, "drink_id": drink_id})
        elif self._stage.is_hot and self._chance(POURED_HOT if drink_id == "d-water" else POURED_HOT / 4):
            poured_l = round(self._rng.uniform(0.1, 0.35), 2)
            left_l -= poured_l
            self.ridden.poured_l += poured_l
            self._note("rider", "poured", until_km, {"volume_l": poured_l, "drink_id": drink_id})
        elif self._chance(CAME_BACK):
            back_l = round(self._rng.uniform(0.05, 0.3), 2)
            left_l -= back_l
            self._note(hand, "came_back", until_km, {"left_l": back_l, "how": "weighed", "drink_id": drink_id})
        if left_l <= 0.01:
            return
        self.ridden.drunk_l += left_l
        self.ridden.sodium_mg += self._sodium_mg(drink_id, left_l)
        seen_l = round(left_l * self._rng.gauss(1.0, 0.06), 2)
        how = "count" if self._chance(0.5) else "recall"
        noted = {"volume_l": seen_l, "how": how, "drink_id": drink_id, "from_km": round(km, 1)}
        self._note("rider", "drank", until_km, {**noted, "to_km": round(until_km, 1)})

    def _eat(self, foods: Mapping[str, int], km: float) -> None:
        for food_id, n_units in foods.items():
            self.ridden.food_kg += n_units * FOOD[food_id]["mass_kg"]
            self.ridden.sodium_mg += n_units * FOOD[food_id]["sodium_mg"]
            self._note("rider", "ate", km, {"food_id": food_id, "n_units": float(n_units)})

    def _step(self, step: Mapping[str, Any]) -> None:
        hand: Hand = "car" if "-car-" in step["feed_id"] else "soigneur"
        for drink_id in sorted(step["bottles"]):
            for _ in range(step["bottles"][drink_id]):
                is_refused = self._has("dry_days") and not self._chance(DRY_SHARE)
                is_missed = step["km"] > 0 and self._chance(MISSED_HAND_UP)
                if not (is_refused or is_missed):
                    self._bottle(drink_id, step["km"], step["until_km"], hand)
        self._eat(step.get("foods", {}), step["km"])

    def _drink_above_losses(self) -> None:
        wanted_l = ABOVE_LOSSES_SHARE * (self._truth.sweat_l + self._truth.respiratory_l)
        places = [self._stage.length_km * share / (MAX_EXTRA_BOTTLES + 1) for share in range(1, MAX_EXTRA_BOTTLES + 2)]
        for km, until_km in pairwise(places):
            if self.ridden.drunk_l >= wanted_l:
                return
            self._bottle("d-water", km, until_km, "car")

    def ride(self, steps: list[dict[str, Any]]) -> Ridden:
        """Ride the stage by the plan's steps and return what truly happened and what was noted."""
        for step in steps:
            self._step(step)
        if self._has("above_losses"):
            self._drink_above_losses()
        return self.ridden
