"""What the scales have said so far: each rider's observed losses against the model, and the factor learnt from them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

from brinebook.engine.measure.mass_balance import weighed_ride
from brinebook.engine.settle.learn import FactorState, drifted, team_offset, update_factor
from brinebook.engine.settle.stage_noise import stage_log_sd
from brinebook.engine.stage.air import vapour_pressure_pa
from brinebook.planning.assemble import efficiency_frac, model_ride_l
from brinebook.planning.books import Books, Fact
from brinebook.records.edited import RiderBody
from brinebook.records.facts import WeighedRide

PRIOR_LOG_SD = 0.25
DAY_LOG_SD = 0.15
OFFSET_LAG_DAYS = 3
"""The team's offset leaves out the last race days, so that one rider's scales never rewrite another's next plans."""
OFFSET_STEP_LOG = 0.01
DAY_MS = 86_400_000
MIN_RIDE_H = 1.0


@dataclass(frozen=True)
class Observation:
    """One weighed loss beside the model's own figure; ``place`` is the stage's index, -1 for a weighed ride."""

    place: int
    at_ms: int
    model_l: float
    observed_l: float
    observed_sd_l: float
    key: str
    predicted_l: float | None = None
    """The model's figure as the forecast had it, where the stage's road was then read from a rider's own file."""

    @property
    def ratio_log(self) -> float:
        """Return the log of observed over model."""
        return log(self.observed_l / self.model_l)


@dataclass(frozen=True)
class Learnt:
    """A rider's factor as of one instant, with every step that led to it."""

    state: FactorState
    offset_log: float
    n_used: int
    rejected: tuple[str, ...]
    keys: tuple[str, ...]
    by_place: Mapping[int, tuple[float, float, bool]]
    """Place -> (factor median before, after, was it used), the team's offset included."""
    last_ms: int | None = None
    """When the last of the weighings was made."""


def ride_observations(rides: tuple[Fact[WeighedRide], ...], body: RiderBody) -> tuple[Observation, ...]:
    """Read weighed rides of an hour or more as observations; a ride that gives no loss is left out."""
    found = (_ride_observation(ride, body) for ride in rides if ride.body.duration_h >= MIN_RIDE_H)
    return tuple(observation for observation in found if observation is not None)


def _ride_observation(fact: Fact[WeighedRide], body: RiderBody) -> Observation | None:
    ride = fact.body
    humidity_frac = max(ride.relative_humidity_frac, 0.01)
    vapour_pa = vapour_pressure_pa(ride.air_temperature_c, relative_humidity_frac=humidity_frac)
    result = weighed_ride(
        mass_before_kg=ride.mass_before_kg, mass_after_kg=ride.mass_after_kg, fluid_drunk_l=ride.fluid_drunk_l,
        food_kg=ride.food_kg, urine_l=ride.urine_l, duration_h=ride.duration_h, power_w=ride.power_w,
        gross_efficiency_frac=efficiency_frac(body), vapour_pressure_kpa=float(vapour_pa) / 1000.0,
        kit_sweat_kg=ride.kit_sweat_kg, faeces_kg=ride.stool_kg,
    )
    model_l = model_ride_l(ride, body)
    if min(result.sweat_l, model_l) <= 0.0:
        return None
    return Observation(-1, fact.event.at_ms, model_l, result.sweat_l, result.sweat_sd_l, fact.key)


def lagged(books: Books, place: int) -> int:
    """Return the stage before which team-wide figures look, some race days before the one they serve."""
    raced = [index for index in books.race_days if index < place]
    return raced[-OFFSET_LAG_DAYS] if len(raced) >= OFFSET_LAG_DAYS else 0


def surprise(seen: Observation, before: "Learnt") -> tuple[float, float]:
    """
    Return how far a settled stage fell from its forecast, and the spread of the factor as it was then.

    The doubt of the scales is not taken off: what a log might have missed is a guess, and taking a guess off a surprise
    narrows the band until it no longer holds what is settled. Left in, it can only widen it.
    """
    forecast_l = seen.model_l if seen.predicted_l is None else seen.predicted_l
    surprise_log = log(seen.observed_l / forecast_l) - before.offset_log - before.state.log_mean
    return surprise_log, before.state.log_sd


def noise_log_sd(surprises: Sequence[tuple[float, float]]) -> float | None:
    """Learn the spread of a stage from the team's surprises, in steps; None while there is nothing to learn from."""
    if not surprises:
        return None
    found = stage_log_sd([one for one, _ in surprises], known_log_sds=[known for _, known in surprises])
    return OFFSET_STEP_LOG * round(found / OFFSET_STEP_LOG)


def offset_log(observations: Mapping[str, tuple[Observation, ...]], *, books: Books, place: int, at_ms: int) -> float:
    """
    Fit the team's common log offset as it stood some race days before a stage, in steps of one percent.

    Each rider counts once, by the mean of his own ratios, with the spread between riders in his weight.
    """
    before = lagged(books, place)
    ratios, sds = [], []
    for _, of_rider in sorted(observations.items()):
        known = [seen.ratio_log for seen in of_rider if seen.place < before and seen.at_ms < at_ms]
        if known:
            ratios.append(sum(known) / len(known))
            sds.append(sqrt(PRIOR_LOG_SD**2 + DAY_LOG_SD**2 / len(known)))
    if not ratios:
        return 0.0
    mean, _ = team_offset(ratios, sds)
    return OFFSET_STEP_LOG * round(mean / OFFSET_STEP_LOG)


def learn(observations: tuple[Observation, ...], *, offset: float, place: int, at_ms: int) -> Learnt:
    """Run the rider's factor over all he has shown before a stage, in order of time."""
    state, last_ms = FactorState(log_mean=0.0, log_sd=PRIOR_LOG_SD), None
    used, rejected, by_place = 0, [], {}
    known = [seen for seen in observations if seen.place < place and seen.at_ms < at_ms]
    for seen in sorted(known, key=lambda seen: (seen.at_ms, seen.key)):
        days = days_since(last_ms, seen.at_ms)
        before = exp(offset + state.log_mean)
        update = update_factor(
            state, model_l=seen.model_l * exp(offset), observed_l=seen.observed_l, observed_sd_l=seen.observed_sd_l,
            n_days_since=days,
        )
        state, last_ms = update.state, seen.at_ms
        used += not update.is_rejected
        if update.is_rejected:
            rejected.append(seen.key)
        if seen.place >= 0:
            by_place[seen.place] = (before, exp(offset + state.log_mean), not update.is_rejected)
    return Learnt(state, offset, used, tuple(rejected), tuple(seen.key for seen in known), by_place, last_ms)


def prior_of(learnt: Learnt, *, at_ms: int) -> FactorState:
    """Return the factor as it stands on a later day, wider by what it may have drifted."""
    return drifted(learnt.state, days_since(learnt.last_ms, at_ms))


def days_since(last_ms: int | None, at_ms: int) -> int:
    """Return the whole days since the last weighing; one when there was none."""
    return 1 if last_ms is None else max(0, round((at_ms - last_ms) / DAY_MS))
