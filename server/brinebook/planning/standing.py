"""What is known of each rider as the race stands before any stage: one pure answer per rider and place."""

from dataclasses import dataclass
from functools import cached_property

from msgspec import json, structs

from brinebook.engine.loss.sweat_forecast import RiderState, SweatForecast
from brinebook.planning.agreement import agreement_of
from brinebook.planning.assemble import (
    KeyedStage,
    Ride,
    efficiency_frac,
    forecast_of,
    ride_of,
    rider_state,
)
from brinebook.planning.books import Books, Fact, digest, is_raced, record_key
from brinebook.planning.history import (
    Learnt,
    Observation,
    lagged,
    learn,
    noise_log_sd,
    offset_log,
    ride_observations,
    surprise,
)
from brinebook.planning.intake import bottles_of, drunk
from brinebook.planning.lane import LaneWord
from brinebook.planning.ridden import ridden_of, road_energy_kcal, road_sweat_l
from brinebook.planning.sodium import SodiumKnown, sodium_known
from brinebook.planning.weighing import Loss, eaten_kg, loss_of, masses_of
from brinebook.records.derived import Settlement
from brinebook.records.edited import RiderBody, Stage
from brinebook.records.facts import Ridden, SweatSample, WeighedRide


@dataclass(frozen=True)
class Standing:
    """One rider before one stage: factor, sodium and what they rest on."""

    rider_id: str
    place: int
    body: RiderBody
    learnt: Learnt
    sodium: SodiumKnown
    stage_log_sd: float | None = None

    @cached_property
    def state(self) -> RiderState:
        """Return the rider as the forecast asks for him."""
        known = self.sodium.estimate
        return rider_state(
            self.body,
            factor=(self.learnt.state.log_mean, self.learnt.state.log_sd),
            team_offset_log=self.learnt.offset_log,
            sodium=(known.mean_mmol_per_l, known.sd_mmol_per_l),
            stage_log_sd=self.stage_log_sd,
        )

    @cached_property
    def key(self) -> str:
        """
        Name this knowledge by its content.

        The body goes by its version alone: a plan's basis reaches people who may not know a rider's mass, and the
        hash of so few possible masses would tell it.
        """
        known = self.sodium.estimate
        learnt = (self.learnt.state.log_mean, self.learnt.state.log_sd, self.learnt.offset_log, *self.learnt.keys)
        if self.stage_log_sd is not None:
            learnt = (self.stage_log_sd, *learnt)
        content = json.encode((learnt, known.mean_mmol_per_l, known.sd_mmol_per_l, self.sodium.keys))
        return f"profile:{self.rider_id}@{self.body.version}#{digest(content)}"


class Race:
    """The books with every answer kept that more than one step asks for."""

    def __init__(self, books: Books) -> None:
        self.books = books
        self.settled: dict[tuple[str, int], tuple[Settlement, LaneWord] | None] = {}
        """Each settlement, and the lane's word at the kerbs of the rider's size class."""
        self._observations: dict[str, tuple[Observation, ...]] = {}
        self._standings: dict[tuple[str, int], Standing] = {}
        self._offsets: dict[int, float] = {}
        self._learnt: dict[tuple[str, int], Learnt] = {}
        self._noises: dict[int, float | None] = {}

    @cached_property
    def keyed(self) -> tuple[KeyedStage, ...]:
        """Return the stages under the hash of what makes their road; names, roles and feeding rules are not of it."""
        return tuple(KeyedStage(_road_key(stage), stage) for stage in self.books.stages)

    @cached_property
    def rider_ids(self) -> tuple[str, ...]:
        """Return the riders with a body on record."""
        return tuple(sorted(set(self.books.riders) & set(self.books.bodies)))

    def ride(self, rider_id: str, place: int) -> Ride:
        """Return who rides which road."""
        return ride_of(self.keyed[place], self.books.riders[rider_id], self.books.bodies[rider_id])

    def ride_keys(self, rider_id: str, place: int) -> tuple[str, str]:
        """Name the road and how the rider rides it, for a basis: another rider's role is not in it."""
        ride = self.ride(rider_id, place)
        return self.keyed[place].key, f"ride:{rider_id}={ride.race_role}+{ride.start_offset_s:g}s"

    def plan_keys(self, rider_id: str, place: int) -> tuple[str, ...]:
        """Name the rules of the day, the goals and the drinks opened for a rider, for the basis of his plan."""
        stage = self.books.stages[place]
        opened = sorted(stage.opened_drinks_by_rider.get(rider_id, []))
        rules = () if stage.feeding is None else (f"rules:{stage.id}#{digest(json.encode(stage.feeding))}",)
        goals = () if self.books.goals is None else (record_key("plan_goals", self.books.goals),)
        return (*rules, *goals, *(f"opened:{drink_id}" for drink_id in opened))

    def model_l(self, rider_id: str, place: int) -> float:
        """Return the chain's own figure for a rider and stage as ridden, before any factor [L]."""
        body = self.books.bodies[rider_id]
        return road_sweat_l(
            self.ride(rider_id, place), self.ridden(rider_id, place), height_m=body.height_m,
            gross_efficiency_frac=efficiency_frac(body),
        )

    def predicted_l(self, rider_id: str, place: int) -> float:
        """Return the chain's own figure for a rider and stage as predicted, before any factor [L]."""
        body = self.books.bodies[rider_id]
        return road_sweat_l(
            self.ride(rider_id, place), None, height_m=body.height_m, gross_efficiency_frac=efficiency_frac(body)
        )

    def ridden(self, rider_id: str, place: int) -> Fact[Ridden] | None:
        """Return the file a rider's stage was ridden with, if one was read in."""
        return ridden_of(self.books, rider_id, self.books.stages[place].id)

    def ridden_kcal(self, rider_id: str, place: int) -> float:
        """Return what a rider's stage cost, by his file or else as predicted [kcal]."""
        return road_energy_kcal(
            self.ride(rider_id, place), self.ridden(rider_id, place),
            gross_efficiency_frac=efficiency_frac(self.books.bodies[rider_id]),
        )

    def forecast(self, rider_id: str, place: int) -> SweatForecast:
        """Return the forecast of a stage made from what was known before it."""
        return forecast_of(self.ride(rider_id, place), self.standing(rider_id, place).state)

    def forecast_with(self, standing: Standing, place: int) -> SweatForecast:
        """Return the forecast of a stage made from what was known at another place."""
        return forecast_of(self.ride(standing.rider_id, place), standing.state)

    def loss(self, rider_id: str, place: int) -> Loss | None:
        """Return the loss of a settled stage by the scales, or None."""
        stage, books = self.books.stages[place], self.books
        agreed = agreement_of(books, rider_id, stage.id)
        if agreed is None or not is_raced(stage):
            return None
        bottles, masses = bottles_of(books, rider_id, stage.id), masses_of(books, rider_id, stage.id)
        return loss_of(
            masses, ridden_kcal=self.ridden_kcal(rider_id, place),
            drunk=(agreed.body.drunk_l, drunk(bottles).proposed_sd_l), food_kg=eaten_kg(books, bottles, masses),
            model_l=self.model_l(rider_id, place),
        )

    def last_settled(self, rider_id: str, place: int) -> int | None:
        """Return the rider's last settled stage before a place."""
        stages = self.books.stages
        settled = (
            index for index in self.books.race_days
            if index < place and agreement_of(self.books, rider_id, stages[index].id) is not None
        )
        return max(settled, default=None)

    def before(self, rider_id: str, place: int) -> Standing:
        """Return what was known before the rider's last settled stage, to show what that stage changed."""
        last = self.last_settled(rider_id, place)
        return self.standing(rider_id, place if last is None else last)

    def observations(self, rider_id: str) -> tuple[Observation, ...]:
        """Return all a rider's believable weighed losses, rides and settled stages."""
        if rider_id not in self._observations:
            rides = self.books.of_rider(rider_id, WeighedRide)
            self._observations[rider_id] = (
                *ride_observations(rides, self.books.bodies[rider_id]), *self._stage_observations(rider_id),
            )
        return self._observations[rider_id]

    def _stage_observations(self, rider_id: str) -> list[Observation]:
        found = []
        for place in self.books.race_days:
            loss = self.loss(rider_id, place)
            if loss is not None and loss.is_believable:
                stage = self.books.stages[place]
                agreed = agreement_of(self.books, rider_id, stage.id)
                found.append(Observation(
                    place, stage.start_at_ms, self.model_l(rider_id, place), loss.sweat_l, loss.sweat_sd_l,
                    "" if agreed is None else agreed.key, self.predicted_l(rider_id, place),
                ))
        return found

    def offset_log(self, place: int) -> float:
        """Return the team's common log offset as used for a stage."""
        if place not in self._offsets:
            everyone = {rider_id: self.observations(rider_id) for rider_id in self.rider_ids}
            self._offsets[place] = offset_log(
                everyone, books=self.books, place=place, at_ms=self.instant_ms(place)
            )
        return self._offsets[place]

    def learnt(self, rider_id: str, place: int) -> Learnt:
        """Return a rider's factor as it stood before a stage."""
        if (rider_id, place) not in self._learnt:
            self._learnt[rider_id, place] = learn(
                self.observations(rider_id), offset=self.offset_log(place), place=place, at_ms=self.instant_ms(place),
            )
        return self._learnt[rider_id, place]

    def stage_log_sd(self, place: int) -> float | None:
        """Return the spread of a stage as the team's surprises some race days before it have taught."""
        if place not in self._noises:
            before = lagged(self.books, place)
            self._noises[place] = noise_log_sd([
                surprise(seen, self.learnt(rider_id, seen.place))
                for rider_id in self.rider_ids for seen in self.observations(rider_id) if 0 <= seen.place < before
            ])
        return self._noises[place]

    def standing(self, rider_id: str, place: int) -> Standing:
        """Return what is known of a rider before the stage at ``place``, which may lie one past the last."""
        if (rider_id, place) not in self._standings:
            at_ms = self.instant_ms(place)
            self._standings[rider_id, place] = Standing(
                rider_id, place, self.books.bodies[rider_id],
                self.learnt(rider_id, place), sodium_known(self.books.of_rider(rider_id, SweatSample), at_ms=at_ms),
                self.stage_log_sd(place),
            )
        return self._standings[rider_id, place]

    def instant_ms(self, place: int) -> int:
        """Return the instant at which a stage starts; a day after the last stage beyond the end."""
        stages = self.books.stages
        if not stages:
            return max((fact.event.at_ms + 1 for fact in self.books.facts), default=0)
        return stages[place].start_at_ms if place < len(stages) else stages[-1].start_at_ms + 86_400_000


def _road_key(stage: Stage) -> str:
    road = structs.replace(
        stage, version=0, name="", note="", race_role_by_rider={}, start_offset_s_by_rider={},
        opened_drinks_by_rider={}, feeding=None,
    )
    return f"stage:{stage.id}#{digest(json.encode(road))}"
