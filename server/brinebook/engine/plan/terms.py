"""The terms of a bottle plan: what goes into it and what comes out of it."""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from brinebook.engine.constants import balance as c
from brinebook.engine.units import FloatArray
from brinebook.engine.validity import Violation

Sugar = Literal["mixed", "single"]
"""``mixed``: glucose with fructose, two ways into the blood. ``single``: starch, glucose or maltodextrin alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DrinkOption:
    """One kind of bottle on offer to one rider, as mixed."""

    bottle_l: float
    water_frac: float
    """Water in a litre of drink; sugar takes up room."""
    sodium_mg_per_l: float = 0.0
    carbohydrate_g_per_l: float = 0.0
    sugar: Sugar = "mixed"
    flavour: str = ""
    """Bottles of one flavour in a row pall; water and whatever has no flavour breaks the row."""
    is_allowed: bool = True
    """False: an allergen, a "cannot", or none left. Never planned."""
    taste_u: float = 0.0
    """Penalty per bottle of a drink the rider does not like."""
    stock_u: float = 0.0
    """Penalty per bottle of a drink that is nearly out."""
    most_n: int | None = None
    """Bottles there are for this rider; None when stock does not matter."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoodOption:
    """One unit of a food on offer to one rider."""

    carbohydrate_g: float
    sodium_mg: float = 0.0
    water_l: float = 0.0
    sugar: Sugar = "mixed"
    is_allowed: bool = True
    taste_u: float = 0.0
    stock_u: float = 0.0
    most_n: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanLimits:
    """Limits a plan never crosses, except ``plasma_ceiling_mmol_per_l`` and the deficits, which cost."""

    stomach_allowance_l: float = c.STOMACH_ALLOWANCE_L
    max_stomach_l: float = c.MAX_STOMACH_L
    max_intake_l_per_h: float = c.MAX_MEAN_INTAKE_L_PER_H
    """Mean over the stage; lower it to what the rider has tested."""
    max_any_hour_l_per_h: float = c.MAX_ANY_HOUR_L_PER_H
    max_sodium_mg_per_h: float = c.MAX_SODIUM_MG_PER_H
    max_drink_sodium_mg_per_l: float = c.MAX_DRINK_SODIUM_MG_PER_L
    """Raise it to open a stronger drink; water is then drunk on the same stretch."""
    max_carbohydrate_g_per_h: float = c.MAX_CARBOHYDRATE_G_PER_H
    max_single_source_g_per_h: float = c.SINGLE_SOURCE_CARBOHYDRATE_G_PER_H
    """Carbohydrate of a single source alone; a share of it leaves as great a share of the other for mixed sugars."""
    max_drink_carbohydrate_g_per_l: float = c.MAX_DRINK_CARBOHYDRATE_G_PER_L
    """Raise it up to 120 to open a thicker drink; water is then drunk on the same stretch."""
    carbohydrate_allowance_g: float = c.CARBOHYDRATE_ALLOWANCE_G
    plasma_floor_mmol_per_l: float = c.PLASMA_SODIUM_FLOOR_MMOL_PER_L
    plasma_ceiling_mmol_per_l: float = c.PLASMA_SODIUM_CEILING_MMOL_PER_L
    tolerated_deficit_frac: float = c.TOLERATED_DEFICIT_FRAC
    tolerated_deficit_cool_frac: float = c.TOLERATED_DEFICIT_COOL_FRAC
    n_carried: int = c.CARRIED_BOTTLES_N
    """Bottles on the bike and in the pocket right after a feed."""
    n_of_each_per_feed: int = 2
    n_foods_per_feed: int = c.FOODS_PER_FEED_N
    """Units of all foods together in pockets and musette."""
    is_every_bottle_emptied: bool = False
    """True: a bottle is drunk up before the next feed; False: it may ride on half full."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanWeights:
    """Penalties [u] that rank the plans allowed by the limits; a unit is own choice, none is evidence."""

    deficit_step_u: float = 3.0
    """Per 0.25 % of body mass beyond the tolerated deficit, at every feed."""
    water_step_u: float = 1.0
    """Per 0.1 L off the target."""
    sodium_step_u: float = 1.0
    """Per 100 mg off the target."""
    carbohydrate_step_u: float = 1.0
    """Per 6 g/h below the target."""
    plasma_step_u: float = 1.0
    """Per mmol/L above the soft ceiling, at every feed."""
    risk_step_u: float = 0.1
    """Per 0.25 % beyond 4 % deficit should the loss be at q90, and per 0.1 L above 80 % of it should it be at q10."""
    taste_run_u: float = 0.1
    """Per bottle of one flavour beyond three in a row."""
    bottle_u: float = 0.2
    food_u: float = 0.1
    peak_u: float = 0.5
    """Per L/h of the busiest segment: evens the drinking out."""
    gap_u: float = 0.05
    """The stated gap: how far the plan's penalty may lie above the least there is. A quarter of a bottle's cost."""
    gap_frac: float = c.PROGRAMME_REL_GAP
    """And this share of the penalty itself."""


@dataclass(frozen=True, eq=False, kw_only=True)
class BottlePlanInput:
    """
    One rider and stage with K segments between feeds.

    Arrays over instants have shape (K + 1,) and begin at the start with 0; segment k runs from instant k, where its
    bottles are handed up, to instant k + 1, by when they are drunk.
    """

    times_h: FloatArray
    sweat_q10_l: FloatArray
    sweat_q50_l: FloatArray
    sweat_q90_l: FloatArray
    road_h: FloatArray | None = None
    """Finer instants, shape (n,), at which the loss is known: the limits hold there as well as at the feeds."""
    road_q10_l: FloatArray | None = None
    tbw_l: float
    mass_kg: float
    start_deficit_l: float = 0.0
    """Water still owed from the days before; it counts as deficit and never loosens a limit."""
    sodium_mmol_per_l: float
    """Whole-body sweat sodium."""
    sodium_high_mmol_per_l: float | None = None
    """Upper end of its spread: the plasma floor holds for sweat as salty as this."""
    drinks: tuple[DrinkOption, ...]
    foods: tuple[FoodOption, ...] = ()
    max_bottles_per_feed: NDArray[np.int64]
    """Shape (K,): hands and cages at each feed; 2 or 3 at the start."""
    hand_up_odds_frac: FloatArray | None = None
    """Shape (K,): chance that a hand-up succeeds; None when all are sure."""
    target_water_l: float
    target_sodium_mg: float
    carbohydrate_target_g_per_h: float = 0.0
    plasma_sodium_mmol_per_l: float = c.PLASMA_SODIUM_DEFAULT_MMOL_PER_L
    potassium_mmol_per_l: float = c.SWEAT_POTASSIUM_DEFAULT_MMOL_PER_L
    is_cool: bool = False
    """Below 15 C: 3 % deficit is tolerated, and then is a limit."""
    is_sodium_needed: bool = False
    """True when plasma sodium falls without added sodium (R_min > 0); a shortfall then costs double."""
    limits: PlanLimits = field(default_factory=PlanLimits)
    weights: PlanWeights = field(default_factory=PlanWeights)


@dataclass(frozen=True, slots=True, kw_only=True)
class Freed:
    """What would free a plan from a limit that holds it back, and by how much."""

    limit: str
    """Code of the limit."""
    code: str
    """Code of the remedy."""
    gain_u: float
    """Penalty saved at most: the bound of the plan with the remedy in place."""
    segment: int | None = None
    """Which segment the remedy is about; None for the stage."""


@dataclass(frozen=True, eq=False, kw_only=True)
class BottlePlan:
    """A plan for K segments, B drinks and J foods; arrays over k hold the state at the end of segment k."""

    bottles: NDArray[np.int64]
    """Handed up at the start of each segment, shape (K, B)."""
    foods: NDArray[np.int64]
    """Units handed up at the start of each segment, shape (K, J)."""
    eaten: NDArray[np.float64]
    """Units eaten in each segment, in parts, shape (K, J)."""
    drunk_l: NDArray[np.float64]
    """Drink swallowed in each segment, shape (K, B)."""
    cumulative_water_l: NDArray[np.float64]
    cumulative_sodium_mg: NDArray[np.float64]
    cumulative_carbohydrate_g: NDArray[np.float64]
    deficit_frac: NDArray[np.float64]
    """Median sweat and what was owed before, minus water, over body mass."""
    plasma_low_mmol_per_l: NDArray[np.float64]
    """The lower of plasma sodium at q10 and at q90 sweat."""
    plasma_high_mmol_per_l: NDArray[np.float64]
    penalty_u: float
    bound_u: float
    """No plan inside the limits has a smaller penalty than this."""
    binding: tuple[str, ...]
    """Codes of the hard limits that hold the plan back."""
    freed: tuple[Freed, ...]
    """What would help most against them, the most helpful first."""
    violations: tuple[Violation, ...]
    is_relaxed: bool
    is_proven: bool = True
    """False: the search stopped before the penalty was shown to lie within the stated gap of the bound."""
