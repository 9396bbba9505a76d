"""One day of the race: publish, weigh, ride, come back to the network, settle."""

import random
from dataclasses import dataclass, field
from typing import Any

from seed_demo.devices import Device, PlayProblem
from seed_demo.pantry import DRINKS
from seed_demo.physiology import SCALE_SD_KG, StageTruth, stage_truth
from seed_demo.race import StageCard, instant_ms, stages
from seed_demo.ride import Deed, Ridden, Road
from seed_demo.squad import RIDERS
from seed_demo.team import TeamDevices
from seed_demo.trouble import SCALE_FAULT_KG, WEAK_DRINK_ID, WEAK_SODIUM_MG_PER_L, has_trouble
from seed_demo.weather import forecast_csv

MINUTE_MS = 60_000
HOURS_AFTER_MS = 40 * MINUTE_MS
MORNING_SHARE = 0.6
CARRIED_SHARE, CARRIED_SHARE_DRY, MORNING_SD_KG = 0.15, 0.45, 0.15
"""Share of an evening's deficit still missing next morning; the rest was drunk overnight."""
ESTIMATE_SD_FRAC = 0.10
OFFLINE_UNTIL_EVENING = ("car", "soigneur-2")
Document = dict[str, Any]


@dataclass
class RiderDay:
    """All that is known afterwards of one rider's day, hidden truth included."""

    stage: StageCard
    rider_id: str
    truth: StageTruth
    ridden: Ridden = field(default_factory=Ridden)
    mass_before_kg: float = 0.0
    mass_after_kg: float = 0.0
    forecast: Document | None = None
    plan: Document | None = None
    proposed: Document | None = None
    settlement: Document | None = None
    evening: Document | None = None
    profile: Document | None = None
    next_plan: Document | None = None

    def has(self, kind: Any) -> bool:
        """Tell whether this trouble was planted in this day."""
        return has_trouble(kind, self.rider_id, self.stage.number)

    def flag_codes(self) -> set[str]:
        """List the codes of all flags a record of this day carries; a profile's speak of older days too."""
        records = (self.forecast, self.plan, self.proposed, self.settlement, self.evening, self.next_plan)
        return {flag["code"] for record in records if record for flag in record.get("flags", [])}


class StageDay:
    """Runs one stage against the live server. ``residual_kg`` is what each rider still misses in the morning."""

    def __init__(self, team: TeamDevices, stage: StageCard, residual_kg: dict[str, float]) -> None:
        self._team = team
        self._stage = stage
        self._residual_kg = residual_kg
        self._rng = random.Random(f"day-{stage.number}")
        self.days = [RiderDay(stage, card.id, stage_truth(card.id, stage)) for card in RIDERS]

    @property
    def _physiologist(self) -> Device:
        return self._team.by_key["physiologist"]

    def run(self) -> list[RiderDay]:
        """Live the day from the eve to the last agreed figure."""
        self._eve()
        self._morning()
        self._ride()
        self._weigh_after()
        self._come_back()
        self._settle()
        return self.days

    def _eve(self) -> None:
        path = f"/api/stages/{self._stage.id}"
        self._physiologist.api.call("POST", f"{path}/forecast", content=forecast_csv(self._stage, "eve"))
        self._team.wait_for_recompute()
        self._physiologist.api.call("POST", f"{path}/publish", json={})
        self._team.wait_for_recompute()
        self._team.sync()
        for day in self.days:
            phone = self._team.by_key[day.rider_id]
            day.forecast = self._physiologist.body(f"stage_forecast:{day.rider_id}:{self._stage.id}")
            day.plan = phone.body(f"stage_plan:{day.rider_id}:{self._stage.id}")
            if day.forecast is None or day.plan is None or day.plan["status"] != "published":
                raise PlayProblem(f"no published plan on {day.rider_id}'s phone for {self._stage.id}")

    def _mix_check(self) -> None:
        numbers = [stage.number for stage in stages() if has_trouble("weak_mix", "", stage.number)]
        labels = {drink["id"]: drink["sodium_mg_per_l"] for drink in DRINKS}
        strength = dict.fromkeys(numbers, WEAK_SODIUM_MG_PER_L)
        strength |= {number + 1: labels[WEAK_DRINK_ID] for number in numbers}
        if self._stage.number in strength:
            body = {"drink_id": WEAK_DRINK_ID, "sodium_mg_per_l": strength[self._stage.number]}
            at_ms = self._stage.start_at_ms - 120 * MINUTE_MS
            soigneur = self._team.by_key["soigneur-1"]
            soigneur.fact("mix_check", soigneur.team_id, body, at_ms=at_ms, stage_id=self._stage.id)

    def _morning(self) -> None:
        self._mix_check()
        morning_ms = instant_ms(self._stage.day_index, "08:40")
        for index, day in enumerate(self.days):
            card = RIDERS[index]
            morning_kg = card.mass_kg - self._residual_kg.get(card.id, 0.0) + self._rng.gauss(0, MORNING_SD_KG)
            day.mass_before_kg = morning_kg + 0.4
            if self._rng.random() < MORNING_SHARE:
                colour = 6 if self._residual_kg.get(card.id, 0.0) > 0.8 else self._rng.randint(2, 4)
                check = {"mass_kg": self._scale(morning_kg), "urine_colour": colour, "thirst": min(9, colour + 1)}
                phone = self._team.by_key[card.id]
                phone.fact("morning_check", card.id, check, at_ms=morning_ms + index * MINUTE_MS)
            before = {"moment": "before", "mass_kg": self._scale(day.mass_before_kg)}
            self._weigh(card.id, before, self._stage.start_at_ms - (70 - index) * MINUTE_MS)
        self._team.sync()

    def _scale(self, mass_kg: float) -> float:
        return round(mass_kg + self._rng.gauss(0, SCALE_SD_KG), 1)

    def _weigh(self, rider_id: str, body: Document, at_ms: int) -> None:
        self._team.by_key["soigneur-1"].fact("weighed", rider_id, body, at_ms=at_ms, stage_id=self._stage.id)

    def _ride(self) -> None:
        for day in self.days:
            steps = (day.plan or {})["steps"]
            day.ridden = Road(self._stage, day.rider_id, day.truth).ride(steps)
            for deed in day.ridden.deeds:
                hand = self._device_of(deed, day.rider_id)
                hand.fact(deed.kind, day.rider_id, deed.body, at_ms=deed.at_ms, stage_id=self._stage.id)

    def _device_of(self, deed: Deed, rider_id: str) -> Device:
        key = {"rider": rider_id, "car": "car"}.get(deed.hand)
        return self._team.by_key[key or self._rng.choice(("soigneur-1", "soigneur-2"))]

    def _weigh_after(self) -> None:
        for index, day in enumerate(self.days):
            ridden, truth = day.ridden, day.truth
            urine_l = round(self._rng.uniform(0.0, 0.15 if self._stage.is_hot else 0.4), 2)
            lost_kg = truth.sweat_l + truth.not_sweat_kg + urine_l
            day.mass_after_kg = day.mass_before_kg + ridden.drunk_l + ridden.food_kg - lost_kg
            if day.has("no_weigh_in"):
                continue
            shown_kg = self._scale(day.mass_after_kg) + (SCALE_FAULT_KG if day.has("scale_fault") else 0.0)
            body = {
                "moment": "after", "mass_kg": round(shown_kg, 1), "food_kg": round(ridden.food_kg, 2),
                "urine_l": urine_l, "energy_kcal": round(truth.energy_kcal * self._rng.gauss(1.0, 0.03)),
            }
            self._weigh(day.rider_id, body, self._finish_ms(day) + HOURS_AFTER_MS + index * MINUTE_MS)

    def _finish_ms(self, day: RiderDay) -> int:
        return self._stage.start_at_ms + int(day.truth.duration_h * 60 * MINUTE_MS)

    def _come_back(self) -> None:
        """Let phones on the bus reach the network first, two of them losing an answer; the cars come hours later."""
        first = [key for key in self._team.by_key if key not in OFFLINE_UNTIL_EVENING]
        for key in self._rng.sample(first, 3):
            self._team.by_key[key].lose_next_reply()
        self._team.sync(first)
        self._team.by_key[self._rng.choice(OFFLINE_UNTIL_EVENING)].lose_next_reply()
        self._team.sync(OFFLINE_UNTIL_EVENING)
        self._team.wait_for_recompute()
        self._team.sync(["physiologist"])

    def _settlement(self, day: RiderDay) -> Document | None:
        return self._physiologist.body(f"settlement:{day.rider_id}:{self._stage.id}")

    def _agreed(self, day: RiderDay) -> Document:
        """Agree as a careful physiologist would who has talked to the rider and the soigneurs."""
        proposed_l = round(day.proposed["proposed_drunk_l"], 2) if day.proposed else 0.0
        body: Document = {"drunk_l": proposed_l, "proposed_l": proposed_l}
        if day.has("logs_nothing"):
            estimate_l = round(day.ridden.drunk_l * self._rng.gauss(1.0, ESTIMATE_SD_FRAC), 2)
            return {**body, "drunk_l": estimate_l, "reason": "missed_bottle"}
        if day.has("scale_fault"):
            return {**body, "reason": "scale_fault"}
        if day.proposed and any(flag["code"] == "unexplained_litres" for flag in day.proposed.get("flags", [])):
            # More often a hand-up or a sip went unnoted than a bottle was noted that never was.
            fuller_l = max(day.proposed["noted_drunk_l"], day.proposed["derived_drunk_l"])
            return {**body, "drunk_l": round(fuller_l, 2), "reason": "missed_bottle"}
        return body

    def _settle(self) -> None:
        for index, day in enumerate(self.days):
            day.proposed = self._settlement(day)
            at_ms = self._finish_ms(day) + 150 * MINUTE_MS + index * MINUTE_MS
            self._physiologist.fact("agreed", day.rider_id, self._agreed(day), at_ms=at_ms, stage_id=self._stage.id)
        self._team.sync(["physiologist"])
        self._team.wait_for_recompute()
        self._team.sync()
        for day in self.days:
            day.settlement = self._settlement(day)
            day.evening = self._physiologist.body(f"evening_drink:{day.rider_id}:{self._stage.id}")
            day.profile = self._physiologist.body(f"profile:{day.rider_id}")
            day.next_plan = self._next_plan(day.rider_id)
            deficit_kg = max(0.0, day.mass_before_kg - day.mass_after_kg)
            share = CARRIED_SHARE_DRY if day.has("dry_days") else CARRIED_SHARE
            carried = 0.3 * self._residual_kg.get(day.rider_id, 0.0)
            self._residual_kg[day.rider_id] = share * deficit_kg + carried

    def _next_plan(self, rider_id: str) -> Document | None:
        following = [stage for stage in stages() if stage.number == self._stage.number + 1]
        return self._physiologist.body(f"stage_plan:{rider_id}:{following[0].id}") if following else None
