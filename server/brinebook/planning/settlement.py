"""One rider's stage settled: fluids against scales, with the forecast as it stood before the stage."""

from dataclasses import dataclass
from math import exp
from typing import Literal

from msgspec import convert

from brinebook.engine.explain import Given
from brinebook.engine.settle.audit import forecast_rank_frac
from brinebook.engine.settle.intake import IntakeEstimate
from brinebook.engine.units import sodium_mg
from brinebook.planning.agreement import agreement_of, rivals_of
from brinebook.planning.assemble import segments_of
from brinebook.planning.basis import basis_of
from brinebook.planning.books import Fact, record_key
from brinebook.planning.explained import settlement_explained
from brinebook.planning.history import prior_of
from brinebook.planning.intake import (
    EVIDENCE_OF_NOTE,
    Bottles,
    Doubt,
    bottles_of,
    doubt_of,
    drunk,
    sodium_drunk_mg,
    total_l,
)
from brinebook.planning.lane import LaneWord, dry_limit_l, kerbs_l, lane_word, size_kg
from brinebook.planning.ridden import ridden_flags
from brinebook.planning.standing import Race
from brinebook.planning.strength import Mixed, drinks_as_mixed
from brinebook.planning.summaries import settlement_summary_of
from brinebook.planning.warnings import settlement_flags
from brinebook.planning.weighing import Loss, Masses, eaten_kg, loss_of, masses_of
from brinebook.records.common import Evidence
from brinebook.records.derived import Flag, Reason, Settlement
from brinebook.records.explained import Explained
from brinebook.records.facts import Agreed, Ridden

SCALE_SD_L = 0.14
MANY_DRY_DAYS = 3


@dataclass(frozen=True)
class Seen:
    """All that was seen of one rider on one stage, and what the models made of it."""

    race: Race
    rider_id: str
    place: int
    bottles: Bottles
    masses: Masses
    agreed: Fact[Agreed] | None
    intake: IntakeEstimate
    loss: Loss | None
    mixed: dict[str, Mixed]
    ridden: Fact[Ridden] | None
    doubt: Doubt | None = None

    @property
    def drunk_l(self) -> float:
        """Return the litres that count: agreed, or else proposed."""
        return self.intake.proposed_l if self.agreed is None else self.agreed.body.drunk_l

    @property
    def state(self) -> Literal["open", "proposed", "settled"]:
        """Return how far the settling has come."""
        if self.agreed is not None:
            return "settled"
        return "proposed" if self.masses.before and self.masses.after else "open"

    @property
    def quantiles_l(self) -> tuple[float, float, float]:
        """Return the 10, 50 and 90 % quantiles of the loss, forecast from what was known before the stage."""
        low, middle, high = self.race.forecast(self.rider_id, self.place).cumulative_quantiles_l[:, -1]
        return float(low), float(middle), float(high)


def seen(race: Race, rider_id: str, place: int) -> Seen | None:
    """Collect what was seen of a rider on a stage; None when nobody noted or weighed anything."""
    books, stage = race.books, race.books.stages[place]
    bottles, masses = bottles_of(books, rider_id, stage.id), masses_of(books, rider_id, stage.id)
    agreed = agreement_of(books, rider_id, stage.id)
    if not (bottles.keys or masses.keys or agreed):
        return None
    doubt = doubt_of(bottles, books.twins)
    intake = drunk(bottles) if doubt is None else doubt.within(drunk(bottles))
    loss = loss_of(
        masses, ridden_kcal=race.ridden_kcal(rider_id, place),
        drunk=(intake.proposed_l if agreed is None else agreed.body.drunk_l, intake.proposed_sd_l),
        food_kg=eaten_kg(books, bottles, masses), model_l=race.model_l(rider_id, place),
    )
    return Seen(race, rider_id, place, bottles, masses, agreed, intake, loss, drinks_as_mixed(books, place),
                race.ridden(rider_id, place), doubt)


def lane_of(what: Seen, mass_kg: float) -> LaneWord:
    """
    Say where a stage ended, or where it is heading.

    With both masses the balance is what the scales say; without them, the litres drunk lie between the kerbs of the
    forecast.
    """
    if not what.bottles.is_noted and what.agreed is None:
        return "nothing_noted"
    limit_l = dry_limit_l(mass_kg, air_temperature_max_c=_warmest_c(what))
    if what.loss is not None and what.loss.is_believable:
        return lane_word(what.drunk_l - what.loss.sweat_l, sd=SCALE_SD_L, low=-limit_l, high=0.0)
    low_l, high_l = kerbs_l(what.quantiles_l[:2], limit_l=limit_l)
    return lane_word(what.drunk_l, sd=what.intake.proposed_sd_l, low=low_l, high=high_l)


def _warmest_c(what: Seen) -> float:
    return float(segments_of(what.race.ride(what.rider_id, what.place)).air_temperature_c.max())


def _settled(race: Race, rider_id: str, place: int) -> tuple[Settlement, LaneWord] | None:
    """Settle one rider's stage as far as the facts go; kept, since evening, plan and summary ask for it again."""
    if (rider_id, place) not in race.settled:
        what = seen(race, rider_id, place)
        race.settled[rider_id, place] = None if what is None else (
            _settlement(what), lane_of(what, size_kg(race.books.bodies[rider_id].mass_kg)),
        )
    return race.settled[rider_id, place]


def settlement_of(race: Race, rider_id: str, place: int) -> Settlement | None:
    """Settle one rider's stage as far as the facts go."""
    settled = _settled(race, rider_id, place)
    return None if settled is None else settled[0]


def _settlement(what: Seen) -> Settlement:
    race, rider_id, place = what.race, what.rider_id, what.place
    stage, low_middle_high = race.books.stages[place], what.quantiles_l
    loss, bottles, masses = what.loss, what.bottles, what.masses
    sodium = race.standing(rider_id, place).sodium.estimate
    believed_l = loss.sweat_l if loss is not None and loss.is_believable else None
    learnt = _learnt(what)
    lane = lane_of(what, race.books.bodies[rider_id].mass_kg)
    n_dry = _n_dry_before(what) + 1 if lane == "dry" else 0
    known = race.standing(rider_id, place).learnt
    prior = prior_of(known, at_ms=stage.start_at_ms)
    rivals = rivals_of(race.books, rider_id, stage.id)
    return Settlement(
        id=f"settlement:{rider_id}:{stage.id}",
        rider_id=rider_id,
        basis=basis_of(
            *race.ride_keys(rider_id, place), race.standing(rider_id, place).key,
            race.standing(rider_id, place + 1).key, *bottles.keys, *masses.keys, *_food_keys(what),
            *(fact.key for fact in (what.agreed, what.ridden, *rivals) if fact is not None), f"n_dry_days:{n_dry}",
            *(() if what.doubt is None else (what.doubt.key,)),
            *(key for drink_id in _carried(bottles) if drink_id in what.mixed for key in what.mixed[drink_id].keys),
        ),
        flags=settlement_flags(
            lane=lane, change_frac=masses.change_frac, loss=loss, drunk_l=what.drunk_l, intake=what.intake,
            is_rejected=learnt is not None and not learnt[2],
        ) + _agreed_twice(rivals) + _maybe_twice(what) + _no_weigh_in(what) + _dry_days(n_dry) + _mix_flags(what)
        + ridden_flags(race.ride(rider_id, place), what.ridden),
        reasons=_reasons(what),
        explained=_explained(what),
        stage_id=stage.id,
        stage_number=stage.number,
        state=what.state,
        handed_up_l=sum((fact.body.n_bottles * fact.body.volume_l for fact in bottles.handed_up), 0.0),
        came_back_l=sum((fact.body.left_l for fact in bottles.came_back), 0.0),
        poured_l=total_l(bottles.poured),
        lost_l=total_l(bottles.lost),
        noted_drunk_l=what.intake.noted_l,
        derived_drunk_l=what.intake.derived_l,
        proposed_drunk_l=what.intake.proposed_l,
        drunk_sd_l=what.intake.proposed_sd_l,
        drunk_low_l=None if what.doubt is None else what.doubt.low_l,
        drunk_high_l=None if what.doubt is None else what.doubt.high_l,
        drunk_evidence=convert(what.intake.evidence, Evidence),
        agreed_drunk_l=None if what.agreed is None else what.agreed.body.drunk_l,
        agreed_by=None if what.agreed is None else what.agreed.event.by,
        mass_before_kg=masses.before_kg,
        mass_after_kg=masses.after_kg,
        food_kg=eaten_kg(race.books, bottles, masses),
        urine_l=masses.urine_l,
        sweat_loss_l=None if loss is None else loss.sweat_l,
        sweat_loss_sd_l=None if loss is None else loss.sweat_sd_l,
        predicted_q10_l=low_middle_high[0],
        predicted_q50_l=low_middle_high[1],
        predicted_q90_l=low_middle_high[2],
        forecast_rank_frac=None if believed_l is None else forecast_rank_frac(
            race.forecast(rider_id, place).total_draws_l, settled_l=believed_l
        ),
        model_sweat_l=race.model_l(rider_id, place),
        body_mass_change_frac=masses.change_frac,
        sodium_drunk_mg=sodium_drunk_mg(
            bottles, drunk_l=what.drunk_l, mixed=what.mixed, foods=race.books.foods,
        ),
        sodium_lost_mg=None if believed_l is None else float(sodium_mg(believed_l * sodium.mean_mmol_per_l)),
        deficit_l=None if believed_l is None else believed_l + masses.urine_l - what.drunk_l,
        unexplained_l=_unexplained_l(what),
        lane=lane,
        is_used_for_learning=learnt is not None and learnt[2],
        factor_before=None if learnt is None else learnt[0],
        factor_after=None if learnt is None else learnt[1],
        prior_log_mean=prior.log_mean,
        prior_log_sd=prior.log_sd,
        prior_offset_log=known.offset_log,
    )


def _n_dry_before(what: Seen) -> int:
    """Count the race days right before this one that ended on the dry side, one after the other."""
    race, n = what.race, 0
    for place in reversed([place for place in race.books.race_days if place < what.place]):
        earlier = settlement_of(race, what.rider_id, place)
        if earlier is None or earlier.lane != "dry":
            break
        n += 1
    return n


def _dry_days(n_dry: int) -> list[Flag]:
    """One dry day is an evening's work; several running say that the evenings did not do it."""
    if n_dry < MANY_DRY_DAYS:
        return []
    return [Flag(code="dry_days_in_a_row", severity="caution", quantity="n_days", value=float(n_dry),
                 limit=float(MANY_DRY_DAYS))]


def _agreed_twice(rivals: tuple[Fact[Agreed], ...]) -> list[Flag]:
    """Two people agreed two figures without seeing each other's: the later one stands until one of them says so."""
    return [
        Flag(code="agreed_twice", severity="caution", quantity="agreed_drunk_l", value=rival.body.drunk_l,
             detail=rival.event.by)
        for rival in rivals
    ]


def _maybe_twice(what: Seen) -> list[Flag]:
    """Two people may have noted one bottle: the total is a range until somebody says, or agrees on a figure."""
    if what.doubt is None or what.agreed is not None or what.doubt.low_l == what.doubt.high_l:
        return []
    return [Flag(code="maybe_twice", severity="caution", quantity="drunk_l", value=what.doubt.low_l,
                 limit=what.doubt.high_l)]


def _no_weigh_in(what: Seen) -> list[Flag]:
    """Say so when a stage is settled without both masses: its loss stays unknown and nothing is learnt from it."""
    if what.agreed is None or what.loss is not None:
        return []
    return [Flag(code="no_weigh_in", severity="caution", quantity="sweat_loss_l")]


def _reasons(what: Seen) -> list[Reason]:
    """Give each figure its evidence."""
    said, masses = what.intake, what.masses
    noted_kcal = None if masses.after is None else masses.after.body.energy_kcal
    ridden: Evidence = "predicted" if what.ridden is None else "measured"
    counted: Evidence = "weighed" if said.evidence == "weighed" else "counted"
    return [
        Reason(code="derived", quantity="derived_drunk_l", after=said.derived_l,
               evidence=counted if what.bottles.handed_up else "default", source="reconciliation"),
        Reason(code="noted", quantity="noted_drunk_l", after=said.noted_l, evidence=_noted_evidence(what)),
        Reason(code="drunk", quantity="drunk_l", before=said.proposed_l, after=what.drunk_l,
               evidence=convert(said.evidence, Evidence)),
        Reason(code="body_mass", quantity="mass_kg", before=masses.before_kg, after=masses.after_kg,
               evidence="weighed" if masses.change_frac is not None else "default"),
        Reason(code="energy", quantity="energy_kcal",
               after=noted_kcal or what.race.ridden_kcal(what.rider_id, what.place),
               evidence=ridden if noted_kcal is None else "counted", source="cheuvront2017"),
        *_ridden_reasons(what),
    ]


def _explained(what: Seen) -> list[Explained]:
    """Open the balance of the scales."""
    said = {reason.code: reason for reason in _reasons(what)}
    return settlement_explained(
        what.loss, what.masses, food_kg=eaten_kg(what.race.books, what.bottles, what.masses),
        model_l=what.race.model_l(what.rider_id, what.place),
        drunk=Given("drunk_l", what.drunk_l, said["drunk"].evidence),
        energy=Given("energy_kcal", said["energy"].after, said["energy"].evidence, said["energy"].source),
    )


def _ridden_reasons(what: Seen) -> list[Reason]:
    """Put power and time as ridden beside those that were predicted."""
    if what.ridden is None:
        return []
    body, predicted = what.ridden.body, segments_of(what.race.ride(what.rider_id, what.place))
    predicted_h = float(predicted.duration_h.sum())
    predicted_w = float(predicted.power_w @ predicted.duration_h) / predicted_h
    return [
        Reason(code="ridden_power", quantity="mean_power_w", before=predicted_w, after=body.mean_power_w,
               evidence="measured", source="ride_rules"),
        Reason(code="ridden_time", quantity="duration_h", before=predicted_h, after=body.duration_h,
               evidence="measured", source="ride_rules"),
    ]


def _noted_evidence(what: Seen) -> Evidence:
    """Return the weakest evidence among the notes: the sum is no better."""
    found = {EVIDENCE_OF_NOTE[fact.body.how] for fact in what.bottles.drank}
    weakest: tuple[Evidence, ...] = ("recalled", "tapped", "counted")
    return next((evidence for evidence in weakest if evidence in found), "default")


def _carried(bottles: Bottles) -> list[str]:
    return sorted({fact.body.drink_id for fact in bottles.handed_up}
                  | {fact.body.drink_id for fact in bottles.drank if fact.body.drink_id})


def _food_keys(what: Seen) -> list[str]:
    foods = what.race.books.foods
    return [record_key("food", foods[fact.body.food_id]) for fact in what.bottles.ate if fact.body.food_id in foods]


def _mix_flags(what: Seen) -> list[Flag]:
    return [flag for drink_id in _carried(what.bottles) if drink_id in what.mixed
            for flag in what.mixed[drink_id].flags]


def _unexplained_l(what: Seen) -> float | None:
    """Return what the bottles say beyond what was noted [L]; None unless both lines of evidence exist."""
    if not (what.bottles.handed_up and what.bottles.drank):
        return None
    return what.intake.derived_l - what.intake.noted_l


def _learnt(what: Seen) -> tuple[float, float, bool] | None:
    """Return the factor before and after a settled stage, and whether the stage was used."""
    after = what.race.standing(what.rider_id, what.place + 1).learnt
    step = after.by_place.get(what.place)
    if step is None:
        return None
    before = what.race.standing(what.rider_id, what.place).learnt
    return (exp(before.offset_log + before.state.log_mean), exp(after.offset_log + after.state.log_mean), step[2])


def summary_of(race: Race, rider_id: str, place: int) -> Settlement | None:
    """Settle for those who may see no mass: its word stands at the kerbs of the rider's size class."""
    settled = _settled(race, rider_id, place)
    return None if settled is None else settlement_summary_of(settled[0], lane=settled[1])
