"""Masses around a stage: what one rider lost, and whether to believe the scale."""

from dataclasses import dataclass
from math import hypot

from brinebook.engine.constants.sweat import BELIEVABLE_RATIO, URINE_SD_L, WET_KIT_SD_KG
from brinebook.engine.measure.mass_balance import stage_sweat_loss
from brinebook.planning.books import Books, Fact
from brinebook.planning.intake import Bottles
from brinebook.records.facts import Weighed

MAX_LOST_FRAC = 0.07
MAX_GAINED_FRAC = 0.02


@dataclass(frozen=True)
class Masses:
    """The two weighings of a stage and what moved in between."""

    before: Fact[Weighed] | None
    after: Fact[Weighed] | None

    @property
    def keys(self) -> tuple[str, ...]:
        """Name the weighings used."""
        return tuple(fact.key for fact in (self.before, self.after) if fact is not None)

    @property
    def before_kg(self) -> float | None:
        """Return the mass before the stage."""
        return None if self.before is None else self.before.body.mass_kg

    @property
    def after_kg(self) -> float | None:
        """Return the mass after the stage."""
        return None if self.after is None else self.after.body.mass_kg

    @property
    def urine_l(self) -> float:
        """Return what was voided between the two weighings."""
        return 0.0 if self.after is None else self.after.body.urine_l

    @property
    def change_frac(self) -> float | None:
        """Return the change of body mass over the stage."""
        if self.before is None or self.after is None:
            return None
        return (self.after.body.mass_kg - self.before.body.mass_kg) / self.before.body.mass_kg


@dataclass(frozen=True)
class Loss:
    """Sweat of one stage by the scales; ``is_believable`` false means: weigh again before anyone learns from it."""

    sweat_l: float
    sweat_sd_l: float
    is_believable: bool


def masses_of(books: Books, rider_id: str, stage_id: str) -> Masses:
    """Take the last weighing before and the last after a stage."""
    weighings = books.of_rider(rider_id, Weighed, stage_id=stage_id)
    by_moment = {fact.body.moment: fact for fact in weighings}
    return Masses(by_moment.get("before"), by_moment.get("after"))


def eaten_kg(books: Books, bottles: Bottles, masses: Masses) -> float:
    """Return the mass of food eaten between the weighings: as weighed in, or else as noted on the road."""
    weighed_kg = 0.0 if masses.after is None else masses.after.body.food_kg
    noted = ((books.foods.get(fact.body.food_id), fact.body.n_units) for fact in bottles.ate)
    noted_kg = sum(food.mass_kg * n_units for food, n_units in noted if food is not None)
    return weighed_kg or noted_kg


def loss_of(
    masses: Masses, *, ridden_kcal: float, drunk: tuple[float, float], food_kg: float, model_l: float
) -> Loss | None:
    """Balance a stage by the scales, given the litres drunk and their spread; None while a mass is missing."""
    if masses.before is None or masses.after is None:
        return None
    noted_kcal = masses.after.body.energy_kcal
    sweat_l, sweat_sd_l = stage_sweat_loss(
        mass_before_kg=masses.before.body.mass_kg,
        mass_after_kg=masses.after.body.mass_kg,
        drunk_l=drunk[0],
        food_kg=food_kg,
        urine_l=masses.urine_l,
        energy_kcal=noted_kcal or ridden_kcal,
        drunk_sd_l=drunk[1],
        urine_sd_l=URINE_SD_L if masses.after.body.is_kit_dry else hypot(URINE_SD_L, WET_KIT_SD_KG),
        kit_sweat_kg=masses.after.body.kit_sweat_kg,
        faeces_kg=masses.after.body.stool_kg,
    )
    change_frac = masses.change_frac or 0.0
    is_believable = (
        -MAX_LOST_FRAC <= change_frac <= MAX_GAINED_FRAC
        and BELIEVABLE_RATIO[0] * model_l <= sweat_l <= BELIEVABLE_RATIO[1] * model_l
    )
    return Loss(sweat_l, sweat_sd_l, is_believable)
