"""Mornings: a rider's own line, three weak markers counted together, and what one reading is worth."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import UnphysicalInput, physical, physical_positive

WORDS = ("unlikely", "possible", "likely", "very_likely")


@dataclass(frozen=True, slots=True)
class Morning:
    """One fasted, voided weighing; ``day`` counts days, ``is_ill`` freezes the line from this morning on."""

    day: float
    mass_kg: float
    is_ill: bool = False


@dataclass(frozen=True, slots=True)
class Baseline:
    """A rider's own line: the rolling one, the one the race began with, and how many mornings each rests on."""

    rolling_kg: float
    race_start_kg: float | None
    n_mornings: int
    n_left_out: int
    is_frozen: bool


@dataclass(frozen=True, slots=True)
class MorningResult:
    """Positive markers of three, the word for dehydration, and whether mass rose beyond the band."""

    n_positive: int
    word: str
    is_mass_up: bool


@dataclass(frozen=True, slots=True)
class MassReading:
    """What one morning below a cut says: how often by chance, how often by a true deficit, and likelihood ratios."""

    false_frac: float
    true_frac: float
    ratio_low_n: float
    ratio_not_low_n: float


def morning_baseline(
    mornings: Sequence[Morning], *, before_day: float, race_start_day: float | None = None
) -> Baseline:
    """
    Line of a rider's mornings before a day: a median that single odd mornings and an illness do not move.

    Parameters
    ----------
    mornings : sequence of Morning
        Weighings in any order.
    before_day : float
        The day to be judged; only mornings before it count [day].
    race_start_day : float, optional
        Day of the first stage; the mornings before it make a second line that never drifts [day].

    Returns
    -------
    Baseline
        The rolling line is the median of the last seven mornings, without those more than 3 % off their median; after
        an ill morning it stays at what the mornings before the illness say, until five well ones stand after it.

    Raises
    ------
    UnphysicalInput
        If fewer than three mornings are left, or a mass is not above zero.

    References
    ----------
    .. [1] Source key ``cheuvront2004``.
    .. [2] Source key ``mcdermott2017``.

    Examples
    --------
    >>> days = [Morning(float(day), 68.0 + 0.1 * (day % 3)) for day in range(8)]
    >>> round(morning_baseline(days, before_day=8.0).rolling_kg, 2)
    68.1
    """
    physical_positive("mass_kg", [morning.mass_kg for morning in mornings] or [1.0])
    known = sorted((morning for morning in mornings if morning.day < before_day), key=lambda morning: morning.day)
    well, is_frozen = _well(known)
    rolling_kg, n_left_out = _robust_kg([morning.mass_kg for morning in well[-k.BASELINE_MORNINGS_N:]])
    early = [] if race_start_day is None else [morning.mass_kg for morning in well if morning.day < race_start_day]
    return Baseline(
        rolling_kg=rolling_kg,
        race_start_kg=_robust_kg(early[-k.BASELINE_MORNINGS_N:])[0] if len(early) >= k.BASELINE_LEAST_N else None,
        n_mornings=min(len(well), k.BASELINE_MORNINGS_N) - n_left_out,
        n_left_out=n_left_out,
        is_frozen=is_frozen,
    )


def _well(known: Sequence[Morning]) -> tuple[list[Morning], bool]:
    """Return the mornings that make the line: those since an illness, once there are enough, else those before it."""
    last_ill = max((index for index, morning in enumerate(known) if morning.is_ill), default=None)
    if last_ill is None:
        return list(known), False
    since = [morning for morning in known[last_ill + 1:] if not morning.is_ill]
    if len(since) >= k.BASELINE_AFTER_ILLNESS_N:
        return since, False
    first_ill = last_ill
    while first_ill > 0 and known[first_ill - 1].is_ill:
        first_ill -= 1
    return [morning for morning in known[:first_ill] if not morning.is_ill], True


def _robust_kg(masses_kg: Sequence[float]) -> tuple[float, int]:
    if len(masses_kg) < k.BASELINE_LEAST_N:
        raise UnphysicalInput("n_mornings", float(len(masses_kg)))
    masses = np.asarray(masses_kg, dtype=np.float64)
    middle = float(np.median(masses))
    kept = masses[np.abs(masses / middle - 1.0) <= k.BASELINE_OUTLIER_FRAC]
    return float(np.median(kept)), int(masses.size - kept.size)


def morning_check_count(mass_change_frac: float, urine_colour: int | None, thirst: int | None) -> MorningResult:
    """
    Count the morning markers that speak for dehydration.

    Parameters
    ----------
    mass_change_frac : float
        Morning mass against the rider's own line [frac].
    urine_colour : int or None
        Colour on the 8-point chart.
    thirst : int or None
        Thirst from 1 to 9.

    Returns
    -------
    MorningResult
        0 markers: unlikely; 1 possible; 2 likely; 3 very likely. A rising mass is its own warning.

    Raises
    ------
    UnphysicalInput
        If the change is beyond half of body mass.

    References
    ----------
    .. [1] Source key ``wut2005``.

    Examples
    --------
    >>> morning_check_count(-0.012, 6, 5).word
    'very_likely'
    """
    change_frac = float(physical("mass_change_frac", mass_change_frac, low=-0.5, high=0.5))
    positives = (
        change_frac < -k.MORNING_MASS_FRAC,
        urine_colour is not None and urine_colour > k.URINE_COLOUR_ABOVE,
        thirst is not None and thirst >= k.THIRST_FROM,
    )
    return MorningResult(sum(positives), WORDS[sum(positives)], is_mass_up=change_frac > k.MORNING_MASS_FRAC)


def mass_reading(true_change_frac: float, *, cut_frac: float = -k.MORNING_MASS_FRAC) -> MassReading:
    """
    Worth of one morning reading below a cut.

    Parameters
    ----------
    true_change_frac : float
        Change of body water a rider truly carries [frac].
    cut_frac : float
        Reading below which the marker counts [frac].

    Returns
    -------
    MassReading
        How often a rider without a deficit, and one with it, reads below the cut; the likelihood ratio of a reading
        below it, and of one that is not.

    References
    ----------
    .. [1] Source key ``cheuvront2004``.

    Examples
    --------
    >>> round(mass_reading(-0.02).true_frac, 3)
    0.935
    """
    spread = NormalDist(0.0, k.MORNING_MASS_SD_FRAC)
    cut = float(physical("cut_frac", cut_frac, low=-0.5, high=0.5))
    false_frac = spread.cdf(cut)
    true_frac = spread.cdf(cut - float(physical("true_change_frac", true_change_frac, low=-0.5, high=0.5)))
    return MassReading(false_frac, true_frac, true_frac / false_frac, (1.0 - true_frac) / (1.0 - false_frac))


def thirst_thompson1986_cm(plasma_osmolality_mosm_per_kg: float) -> float:
    """
    Thirst on a 10 cm line, for orientation only.

    Parameters
    ----------
    plasma_osmolality_mosm_per_kg : float
        Osmolality of plasma [mosm/kg].

    Returns
    -------
    float
        Length marked on the line [cm]; zero below the threshold.

    References
    ----------
    .. [1] Source key ``thompson1986``.

    Examples
    --------
    >>> round(thirst_thompson1986_cm(290.0), 1)
    2.7
    """
    slope, threshold = k.THIRST_LINE
    above = float(physical("plasma_osmolality_mosm_per_kg", plasma_osmolality_mosm_per_kg)) - threshold
    return max(0.0, slope * above)


def vasopressin_thompson1986_pmol_per_l(plasma_osmolality_mosm_per_kg: float) -> float:
    """
    Antidiuretic hormone in plasma, for orientation only.

    Parameters
    ----------
    plasma_osmolality_mosm_per_kg : float
        Osmolality of plasma [mosm/kg].

    Returns
    -------
    float
        Concentration [pmol/L]; zero below the threshold.

    References
    ----------
    .. [1] Source key ``thompson1986``.

    Examples
    --------
    >>> round(vasopressin_thompson1986_pmol_per_l(290.0), 1)
    2.0
    """
    slope, threshold = k.VASOPRESSIN_LINE
    above = float(physical("plasma_osmolality_mosm_per_kg", plasma_osmolality_mosm_per_kg)) - threshold
    return max(0.0, slope * above)
