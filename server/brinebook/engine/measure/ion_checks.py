"""What chloride, potassium and conductivity say about a sodium reading, and which class a level is in."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import physical, physical_positive

SodiumClass = Literal["low", "middle", "high"]


@dataclass(frozen=True, slots=True)
class ConductivityReading:
    """What a conductivity reading may stand for; weak, and never to be averaged with a sodium reading."""

    sodium_mmol_per_l: float
    sodium_sd_mmol_per_l: float
    chloride_mmol_per_l: float
    codes: tuple[str, ...]


def chloride_codes(sodium_mmol_per_l: float, *, chloride_mmol_per_l: float) -> tuple[str, ...]:
    """
    Say whether sodium and chloride of one sample can both be right.

    Parameters
    ----------
    sodium_mmol_per_l : float
        Sodium [mmol/L].
    chloride_mmol_per_l : float
        Chloride [mmol/L].

    Returns
    -------
    tuple of str
        ``NA_CL`` when their ratio or difference is unusual (suspect the electrode first), ``RANGE_IMPOSSIBLE`` for a
        chloride that no sweat holds.

    Raises
    ------
    UnphysicalInput
        If a level is not above zero.

    References
    ----------
    .. [1] Source key ``sample_rules``.
    .. [2] Source key ``lara2016``.

    Examples
    --------
    >>> chloride_codes(43.2, chloride_mmol_per_l=31.9)
    ()
    >>> chloride_codes(60.0, chloride_mmol_per_l=25.0)
    ('NA_CL',)
    """
    sodium = float(physical_positive("sodium_mmol_per_l", sodium_mmol_per_l))
    chloride = float(physical_positive("chloride_mmol_per_l", chloride_mmol_per_l))
    is_ratio_usual = k.CHLORIDE_PER_SODIUM[0] <= chloride / sodium <= k.CHLORIDE_PER_SODIUM[1]
    low, high = k.SODIUM_LESS_CHLORIDE_MMOL_PER_L
    found = {
        "NA_CL": not (is_ratio_usual and low <= sodium - chloride <= high),
        "RANGE_IMPOSSIBLE": chloride > k.CHLORIDE_IMPOSSIBLE_MMOL_PER_L,
    }
    return tuple(code for code, is_so in found.items() if is_so)


def potassium_codes(potassium_mmol_per_l: float) -> tuple[str, ...]:
    """
    Say whether potassium points at skin debris or contamination.

    Parameters
    ----------
    potassium_mmol_per_l : float
        Potassium [mmol/L].

    Returns
    -------
    tuple of str
        ``POTASSIUM_RANGE`` outside 2.5-10 mmol/L.

    Raises
    ------
    UnphysicalInput
        If the level is not above zero.

    References
    ----------
    .. [1] Source key ``sample_rules``.

    Examples
    --------
    >>> potassium_codes(12.0)
    ('POTASSIUM_RANGE',)
    """
    low, high = k.POTASSIUM_MMOL_PER_L
    is_usual = low <= float(physical_positive("potassium_mmol_per_l", potassium_mmol_per_l)) <= high
    return () if is_usual else ("POTASSIUM_RANGE",)


def is_for_physician(tests_mmol_per_l: Sequence[tuple[float, float]]) -> bool:
    """
    Whether clean tests stay so salty that the team's physician should see them; a referral, no diagnosis.

    Parameters
    ----------
    tests_mmol_per_l : sequence of tuple of float
        Sodium and chloride of each clean test [mmol/L].

    Returns
    -------
    bool
        Two tests or more with sodium above 90 and chloride from 60 mmol/L.

    References
    ----------
    .. [1] Source key ``sample_rules``.

    Examples
    --------
    >>> is_for_physician([(95.0, 70.0), (98.0, 72.0)])
    True
    """
    n_salty = sum(
        sodium > k.SALTY_MMOL_PER_L and chloride >= k.SALTY_CHLORIDE_MMOL_PER_L for sodium, chloride in tests_mmol_per_l
    )
    return n_salty >= k.SALTY_TESTS_N


def conductivity_reading(equivalent_mmol_per_l: float) -> ConductivityReading:
    """
    Sodium and chloride a conductivity reading may stand for.

    Parameters
    ----------
    equivalent_mmol_per_l : float
        Sodium chloride equivalents as read [mmol/L].

    Returns
    -------
    ConductivityReading
        Always ``COND_ONLY``; outside 57-84 the chloride line is stretched, ``COND_RANGE``. Keep the reading beside it.

    Raises
    ------
    UnphysicalInput
        If the reading is not above what pure water with no chloride would give.

    References
    ----------
    .. [1] Source key ``cf_conductivity``.
    .. [2] Source key ``sample_rules``.

    Examples
    --------
    >>> reading = conductivity_reading(66.0)
    >>> round(reading.chloride_mmol_per_l, 6), reading.sodium_mmol_per_l
    (40.0, 54.0)
    """
    least = math.nextafter(k.CONDUCTIVITY_INTERCEPT_MMOL_PER_L, math.inf)
    equivalent = float(physical("equivalent_mmol_per_l", equivalent_mmol_per_l, low=least))
    low, high = k.CONDUCTIVITY_RANGE_MMOL_PER_L
    return ConductivityReading(
        sodium_mmol_per_l=equivalent - k.CONDUCTIVITY_SODIUM_LESS_MMOL_PER_L,
        sodium_sd_mmol_per_l=k.CONDUCTIVITY_SD_MMOL_PER_L,
        chloride_mmol_per_l=(equivalent - k.CONDUCTIVITY_INTERCEPT_MMOL_PER_L) / k.CONDUCTIVITY_SLOPE,
        codes=("COND_ONLY",) if low <= equivalent <= high else ("COND_ONLY", "COND_RANGE"),
    )


def sodium_class(sodium_mmol_per_l: float) -> SodiumClass:
    """
    Class of a sweat sodium among runners.

    Parameters
    ----------
    sodium_mmol_per_l : float
        Sweat sodium [mmol/L].

    Returns
    -------
    str
        ``low`` below 30, ``middle``, or ``high`` above 60 mmol/L; a word for lists, no input to a plan.

    Raises
    ------
    UnphysicalInput
        If the level is negative or not finite.

    References
    ----------
    .. [1] Source key ``lara2016``.

    Examples
    --------
    >>> sodium_class(44.6)
    'middle'
    """
    level = float(physical("sodium_mmol_per_l", sodium_mmol_per_l, low=0.0))
    low, high = k.CLASS_BOUNDS_MMOL_PER_L
    if level < low:
        return "low"
    return "high" if level > high else "middle"
