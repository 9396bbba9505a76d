"""Why this number: each main result as its equation, sources, range of validity and inputs with their provenance."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from brinebook.engine.constants import balance as b
from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import UnphysicalInput

_UNIT = re.compile(
    r"_(mmol_per_l|mg_per_l|g_per_l|l_per_h|mg_per_h|m_per_s|w_per_kg|kg|mg|mmol|kcal|kj|km|frac|factor|log|l|h|w|c|m|n)$"
)
SHOWN_UNITS = {
    "mmol_per_l": "mmol/L", "mg_per_l": "mg/L", "g_per_l": "g/L", "l_per_h": "L/h", "mg_per_h": "mg/h",
    "m_per_s": "m/s", "w_per_kg": "W/kg", "l": "L", "w": "W", "c": "C", "frac": "1", "factor": "1", "log": "1",
    "n": "1",
}


@dataclass(frozen=True, slots=True)
class Equation:
    """One equation by name: what it says in a line, and where it comes from."""

    formula: str
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Given:
    """One input and how it is known; ``value`` is None where it may not be told with this result."""

    quantity: str
    value: float | None
    evidence: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class Range:
    """What the equation was made for, and the value that met it."""

    quantity: str
    low: float
    high: float
    value: float

    @property
    def is_inside(self) -> bool:
        """Say whether the value lies inside."""
        return self.low <= self.value <= self.high


@dataclass(frozen=True, slots=True)
class Explanation:
    """One result, opened: equation by name, inputs with provenance, and the range it was made for."""

    quantity: str
    value: float
    equation: str
    inputs: tuple[Given, ...]
    valid: tuple[Range, ...] = ()

    @property
    def unit(self) -> str:
        """Return the unit as printed; it is the last word of the quantity."""
        return unit_of(self.quantity)

    @property
    def formula(self) -> str:
        """Return the equation in a line."""
        return EQUATIONS[self.equation].formula

    @property
    def sources(self) -> tuple[str, ...]:
        """Return the keys of the literature behind it, in the bibliography of ``sources``."""
        return EQUATIONS[self.equation].sources


EQUATIONS: dict[str, Equation] = {
    "sodium_estimate": Equation(
        "sweat sodium = 11.05 + 0.57 x forearm sodium, forearm = mean of all tests on the log scale, by age and doubt",
        ("sodium_estimator", "baker2016", "baker2020"),
    ),
    "sodium_population": Equation(
        "sweat sodium = 11.05 + 0.57 x forearm sodium of 506 athletes", ("sodium_estimator", "baker2016"),
    ),
    "sweat_factor": Equation(
        "ln factor = team offset + ln prior + gain x (ln(weighed / model) - ln prior), one weighing after the other",
        ("reconciliation", "sweat_chain"),
    ),
    "stage_loss": Equation(
        "loss = factor x sum over the road of (base + heat to be sweated / efficiency / latent heat)",
        ("sweat_chain", "iso7933", "kerslake1972", "lucia2002", "dinapoli2020"),
    ),
    "sodium_loss": Equation("sodium lost = sweat x sweat sodium, spreads together", ("sodium_estimator", "barnes2019")),
    "water_target": Equation(
        "share to drink = 1 - tolerated deficit / likely loss, at most 80 %", ("mcdermott2017", "mosler2020"),
    ),
    "water_limit": Equation(
        "water so far <= low end of the loss so far + 0.25 L in the stomach: nobody ends heavier than he began",
        ("mcdermott2017", "hew_butler2015"),
    ),
    "sodium_target": Equation(
        "share of sodium = ((Na + K) - (1 - F) x (plasma + 23.8) / 1.03) / Na, at least half",
        ("nguyen_kurtz2005", "kurtz_nguyen2003", "mccubbin2022"),
    ),
    "plasma_sodium": Equation(
        "plasma = ((plasma + 23.8) x body water + 1.03 x (Na + K gained)) / (body water + water gained) - 23.8",
        ("kurtz_nguyen2003", "nguyen_kurtz2005", "baker_lang_kenney2008"),
    ),
    "stage_balance": Equation(
        "sweat = mass before - mass after + drunk + food - urine - 0.20 g per kcal",
        ("reconciliation", "cheuvront2017"),
    ),
    "evening_drink": Equation(
        "drink = m x deficit, with m x (1 - urine share) = 1 at the sodium of drink and meal, within 1.0-1.5",
        ("shirreffs1996", "mcdermott2017", "thomas2016"),
    ),
}


def unit_of(quantity: str) -> str:
    """
    Return the unit a quantity is printed in.

    Parameters
    ----------
    quantity : str
        Name of a quantity; its last word is the unit.

    Returns
    -------
    str
        The unit, "1" for shares and counts.

    Raises
    ------
    UnphysicalInput
        If the name ends in no known unit.

    References
    ----------
    .. [1] Arithmetic of names.

    Examples
    --------
    >>> unit_of("sweat_q50_l"), unit_of("sodium_mmol_per_l")
    ('L', 'mmol/L')
    """
    found = _UNIT.search(quantity)
    if found is None:
        raise UnphysicalInput(f"quantity {quantity}", float("nan"))
    return SHOWN_UNITS.get(found[1], found[1])


def sodium_explained(
    mean_mmol_per_l: float, *, tests: Sequence[Given], forearm_mmol_per_l: float
) -> Explanation:
    """
    Open a rider's sweat sodium.

    Parameters
    ----------
    mean_mmol_per_l : float
        Whole-body sweat sodium [mmol/L].
    tests : sequence of Given
        The test days it rests on; none means the population.
    forearm_mmol_per_l : float
        Forearm level the equation was given [mmol/L].

    Returns
    -------
    Explanation
        Valid for forearm levels that were seen in 663 athletes.

    References
    ----------
    .. [1] Source key ``sodium_estimator``.
    """
    prior = Given("forearm_sodium_mmol_per_l", forearm_mmol_per_l, "default", "baker2016")
    return Explanation(
        "sweat_sodium_mmol_per_l", mean_mmol_per_l, "sodium_estimate" if tests else "sodium_population",
        tuple(tests) or (prior,),
        (Range("forearm_sodium_mmol_per_l", k.SODIUM_LOW_MMOL_PER_L, k.SODIUM_HIGH_MMOL_PER_L, forearm_mmol_per_l),),
    )


def factor_explained(factor: float, *, offset_log: float, n_weighed: int, log_sd: float) -> Explanation:
    """
    Open a rider's sweat factor.

    Parameters
    ----------
    factor : float
        Median factor on the chain, team offset included.
    offset_log : float
        Team offset [log].
    n_weighed : int
        Weighings it was learnt from.
    log_sd : float
        Spread that is left [log_sd].

    Returns
    -------
    Explanation
        Valid within three prior spreads of one: further off means that a log or a scale is wrong.

    References
    ----------
    .. [1] Source key ``reconciliation``.
    """
    reach = k.GATE_SD * k.FACTOR_PRIOR_LOG_SD
    return Explanation(
        "sweat_factor", factor, "sweat_factor",
        (
            Given("weighings_n", float(n_weighed), "weighed" if n_weighed else "default", "reconciliation"),
            Given("team_offset_log", offset_log, "weighed" if offset_log else "default", "sweat_chain"),
            Given("prior_spread_log", k.FACTOR_PRIOR_LOG_SD, "default", "sweat_chain"),
            Given("left_spread_log", log_sd, "weighed" if n_weighed else "default", "reconciliation"),
        ),
        (Range("sweat_factor", 1.0 / (1.0 + reach), 1.0 + reach, factor),),
    )


def stage_loss_explained(loss_l: float, *, inputs: Sequence[Given], met: Sequence[Range]) -> Explanation:
    """
    Open the likely loss of a stage.

    Parameters
    ----------
    loss_l : float
        Median loss [L].
    inputs : sequence of Given
        Power, time, weather, body and factor, with how each is known.
    met : sequence of Range
        The worst power, air and air speed along the road against what the chain was looked at in.

    Returns
    -------
    Explanation
        Valid inside the ranges of the chain.

    References
    ----------
    .. [1] Source key ``sweat_chain``.
    """
    return Explanation("sweat_q50_l", loss_l, "stage_loss", tuple(inputs), tuple(met))


def chain_range(quantity: str, *, lowest_u: float, highest_u: float) -> Range:
    """
    Hold the span met on a road against what the chain was looked at in.

    Parameters
    ----------
    quantity : str
        A key of ``CHAIN_RANGES``.
    lowest_u : float
        Lowest value met, in the quantity's unit.
    highest_u : float
        Highest value met, in the quantity's unit.

    Returns
    -------
    Range
        With whichever end lies further out.

    Raises
    ------
    UnphysicalInput
        If the chain has no range for the quantity.

    References
    ----------
    .. [1] Source key ``sweat_chain``.
    """
    if quantity not in k.CHAIN_RANGES:
        raise UnphysicalInput(f"quantity {quantity}", float("nan"))
    low, high = k.CHAIN_RANGES[quantity]
    return Range(quantity, low, high, lowest_u if low - lowest_u > highest_u - high else highest_u)


def plan_explained(
    *, water_l: float, water_limit_l: float, sodium_mg: float, plasma_low_mmol_per_l: float, inputs: Sequence[Given],
    deficit_frac: float,
) -> tuple[Explanation, ...]:
    """
    Open the targets of a plan and the two limits nobody may cross.

    Parameters
    ----------
    water_l : float
        Water aimed at [L].
    water_limit_l : float
        Most water the low end of the loss allows [L].
    sodium_mg : float
        Sodium aimed at [mg].
    plasma_low_mmol_per_l : float
        Lowest predicted plasma sodium along the plan [mmol/L].
    inputs : sequence of Given
        Loss, sweat sodium and shares, with how each is known.
    deficit_frac : float
        Deficit at the finish as a share of body mass [frac].

    Returns
    -------
    tuple of Explanation
        Water target, water limit, sodium target, plasma sodium.

    References
    ----------
    .. [1] Source key ``mcdermott2017``.
    .. [2] Source key ``nguyen_kurtz2005``.
    """
    known = tuple(inputs)
    return (
        Explanation("target_water_l", water_l, "water_target", known,
                    (Range("deficit_frac", 0.0, b.WARNING_DEFICIT_FRAC, deficit_frac),)),
        Explanation("water_limit_l", water_limit_l, "water_limit", known),
        Explanation("target_sodium_mg", sodium_mg, "sodium_target", known),
        # Overdrinking is where the equation misses: it was held against riders who gained nothing.
        Explanation("plasma_sodium_mmol_per_l", plasma_low_mmol_per_l, "plasma_sodium", known, (
            Range("plasma_sodium_mmol_per_l", b.PLASMA_SODIUM_FLOOR_MMOL_PER_L, b.PLASMA_SODIUM_CEILING_MMOL_PER_L,
                  plasma_low_mmol_per_l),)),
    )


def balance_explained(sweat_l: float, *, inputs: Sequence[Given], model_l: float) -> Explanation:
    """
    Open the sweat of a settled stage.

    Parameters
    ----------
    sweat_l : float
        Sweat by the scales [L].
    inputs : sequence of Given
        The lines of the weighing form.
    model_l : float
        The chain's own figure [L].

    Returns
    -------
    Explanation
        Valid from 0.3 to 3 times the model: beyond, weigh again.

    References
    ----------
    .. [1] Source key ``reconciliation``.
    """
    low, high = k.BELIEVABLE_RATIO
    return Explanation("sweat_loss_l", sweat_l, "stage_balance", tuple(inputs),
                       (Range("sweat_loss_l", low * model_l, high * model_l, sweat_l),))


def evening_explained(drink_l: float, *, inputs: Sequence[Given], ratio_frac: float) -> Explanation:
    """
    Open what to drink in the evening.

    Parameters
    ----------
    drink_l : float
        Volume that makes the deficit good [L].
    inputs : sequence of Given
        Deficit, hours to the next start, sodium owed.
    ratio_frac : float
        Volume over deficit [frac].

    Returns
    -------
    Explanation
        Valid for one to one and a half times the deficit.

    References
    ----------
    .. [1] Source key ``shirreffs1996``.
    """
    return Explanation("drink_l", drink_l, "evening_drink", tuple(inputs),
                       (Range("ratio_frac", b.SLOW_RATIO[0], b.QUICK_RATIO[1], ratio_frac),))
