"""Plasma sodium from the balance of water and cations, and how much water and sodium to replace."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from brinebook.engine.constants import balance as c
from brinebook.engine.errors import finite, physical, physical_positive
from brinebook.engine.units import Floats, sodium_mg


def watson_tbw_l(mass_kg: float, *, height_m: float, age_years: float, sex: Literal["m", "f"]) -> float:
    """
    Total body water of an adult.

    Parameters
    ----------
    mass_kg : float
        Body mass [kg].
    height_m : float
        Height [m].
    age_years : float
        Age; counts for men only [years].
    sex : {"m", "f"}
        Which regression applies.

    Returns
    -------
    float
        Total body water [L].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``watson1980``.

    Examples
    --------
    >>> round(watson_tbw_l(68.0, height_m=1.8, age_years=25.0, sex="m"), 2)
    42.26
    """
    finite(mass_kg=mass_kg, height_m=height_m, age_years=age_years)
    physical_positive("mass_kg", mass_kg)
    physical_positive("height_m", height_m)
    offset_l, per_year, per_cm, per_kg = c.WATSON_MEN if sex == "m" else c.WATSON_WOMEN
    return offset_l + per_year * age_years + per_cm * height_m * 100.0 + per_kg * mass_kg


def plasma_sodium_mmol_per_l(
    tbw_l: Floats,
    *,
    water_gain_l: Floats = 0.0,
    cation_gain_mmol: Floats = 0.0,
    start_mmol_per_l: Floats = c.PLASMA_SODIUM_DEFAULT_MMOL_PER_L,
) -> Floats:
    """
    Plasma sodium after a change of body water and of sodium with potassium.

    Parameters
    ----------
    tbw_l : float or array, shape (n,)
        Total body water before [L].
    water_gain_l : float or array, shape (n,)
        Water gained; negative when lost [L].
    cation_gain_mmol : float or array, shape (n,)
        Sodium plus potassium gained; negative when lost [mmol].
    start_mmol_per_l : float or array, shape (n,)
        Plasma sodium before [mmol/L].

    Returns
    -------
    float or array, shape (n,)
        Plasma sodium after [mmol/L].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    Notes
    -----
    Trusted for replaced fractions up to 1; carry 2.6 mmol/L of error near or above it.

    References
    ----------
    .. [1] Source key ``kurtz_nguyen2003``; error from Source key ``baker_lang_kenney2008``.

    Examples
    --------
    >>> float(round(plasma_sodium_mmol_per_l(50.0, water_gain_l=1.0) - 140.0, 3))
    -3.212
    """
    finite(tbw_l=tbw_l, water_gain_l=water_gain_l, cation_gain_mmol=cation_gain_mmol, start_mmol_per_l=start_mmol_per_l)
    physical_positive("tbw_l", np.add(tbw_l, water_gain_l))
    cations_mmol = (start_mmol_per_l + c.NK_OFFSET_MMOL_PER_L) * tbw_l + c.NK_SLOPE * cation_gain_mmol
    return cations_mmol / (tbw_l + water_gain_l) - c.NK_OFFSET_MMOL_PER_L


def isonatric_cations_mmol_per_l(
    plasma_mmol_per_l: Floats = c.PLASMA_SODIUM_DEFAULT_MMOL_PER_L,
) -> Floats:
    """
    Sodium plus potassium of a fluid that leaves plasma sodium as it is.

    Parameters
    ----------
    plasma_mmol_per_l : float or array, shape (n,)
        Plasma sodium [mmol/L].

    Returns
    -------
    float or array, shape (n,)
        Sodium plus potassium [mmol/L].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``nguyen_kurtz2005``.

    Examples
    --------
    >>> round(isonatric_cations_mmol_per_l(140.0), 1)
    159.0
    """
    finite(plasma_mmol_per_l=plasma_mmol_per_l)
    return (plasma_mmol_per_l + c.NK_OFFSET_MMOL_PER_L) / c.NK_SLOPE


def replacement_threshold_frac(
    sodium_mmol_per_l: Floats,
    *,
    potassium_mmol_per_l: Floats = c.SWEAT_POTASSIUM_DEFAULT_MMOL_PER_L,
    plasma_mmol_per_l: Floats = c.PLASMA_SODIUM_DEFAULT_MMOL_PER_L,
) -> Floats:
    """
    Share of sweat that plain water may replace before plasma sodium falls: the free water of a litre of sweat.

    Parameters
    ----------
    sodium_mmol_per_l : float or array, shape (n,)
        Whole-body sweat sodium [mmol/L].
    potassium_mmol_per_l : float or array, shape (n,)
        Sweat potassium [mmol/L].
    plasma_mmol_per_l : float or array, shape (n,)
        Plasma sodium [mmol/L].

    Returns
    -------
    float or array, shape (n,)
        Threshold replaced fraction [frac].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``nguyen_kurtz2005``.

    Examples
    --------
    >>> round(replacement_threshold_frac(40.0), 2)
    0.72
    """
    finite(
        sodium_mmol_per_l=sodium_mmol_per_l, potassium_mmol_per_l=potassium_mmol_per_l,
        plasma_mmol_per_l=plasma_mmol_per_l,
    )
    return 1.0 - (sodium_mmol_per_l + potassium_mmol_per_l) / isonatric_cations_mmol_per_l(plasma_mmol_per_l)


def sodium_share_frac(
    replaced_frac: Floats,
    *,
    sodium_mmol_per_l: Floats,
    potassium_mmol_per_l: Floats = c.SWEAT_POTASSIUM_DEFAULT_MMOL_PER_L,
    plasma_mmol_per_l: Floats = c.PLASMA_SODIUM_DEFAULT_MMOL_PER_L,
) -> Floats:
    """
    Share of sweat sodium to take in so that plasma sodium ends where it began.

    Parameters
    ----------
    replaced_frac : float or array, shape (n,)
        Water drunk over sweat lost [frac].
    sodium_mmol_per_l : float or array, shape (n,)
        Whole-body sweat sodium [mmol/L].
    potassium_mmol_per_l : float or array, shape (n,)
        Sweat potassium [mmol/L].
    plasma_mmol_per_l : float or array, shape (n,)
        Plasma sodium [mmol/L].

    Returns
    -------
    float or array, shape (n,)
        Needed share, 0 when plasma sodium does not fall anyway [frac].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``nguyen_kurtz2005``; agrees with Source key ``mccubbin2022``.

    Examples
    --------
    >>> float(round(sodium_share_frac(0.8, sodium_mmol_per_l=40.0), 2))
    0.33
    """
    finite(
        replaced_frac=replaced_frac, sodium_mmol_per_l=sodium_mmol_per_l,
        potassium_mmol_per_l=potassium_mmol_per_l, plasma_mmol_per_l=plasma_mmol_per_l,
    )
    sodium = physical_positive("sodium_mmol_per_l", sodium_mmol_per_l)
    cations = sodium + potassium_mmol_per_l
    diluted = (1.0 - replaced_frac) * isonatric_cations_mmol_per_l(plasma_mmol_per_l)
    share_frac: Floats = np.maximum((cations - diluted) / sodium, 0.0)
    return share_frac


@dataclass(frozen=True, slots=True)
class PlanTargets:
    """What a plan aims at: water and sodium, and the shares they come from."""

    water_l: float
    sodium_mg: float
    replaced_frac: float
    sodium_share_frac: float
    needed_sodium_share_frac: float
    """R_min: below it plasma sodium ends lower than it began."""


def targets(
    sweat_l: float,
    *,
    mass_kg: float,
    sodium_mmol_per_l: float,
    potassium_mmol_per_l: float = c.SWEAT_POTASSIUM_DEFAULT_MMOL_PER_L,
    plasma_mmol_per_l: float = c.PLASMA_SODIUM_DEFAULT_MMOL_PER_L,
    preferred_share_frac: float = c.PREFERRED_SODIUM_SHARE_FRAC,
) -> PlanTargets:
    """
    Water and sodium to aim at over a stage.

    Parameters
    ----------
    sweat_l : float
        Median sweat of the stage [L].
    mass_kg : float
        Body mass [kg].
    sodium_mmol_per_l : float
        Whole-body sweat sodium [mmol/L].
    potassium_mmol_per_l : float
        Sweat potassium [mmol/L].
    plasma_mmol_per_l : float
        Plasma sodium at the start [mmol/L].
    preferred_share_frac : float
        Share of sodium replaced where less would do [frac].

    Returns
    -------
    PlanTargets
        A 2 % deficit at the finish, at most 80 % of the sweat replaced, and the sodium to go with it.

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``mcdermott2017`` for 2 %, Source key ``mosler2020`` for 80 %.

    Examples
    --------
    >>> round(targets(4.5, mass_kg=68.0, sodium_mmol_per_l=43.5).water_l, 2)
    3.14
    """
    finite(
        sweat_l=sweat_l, mass_kg=mass_kg, sodium_mmol_per_l=sodium_mmol_per_l,
        potassium_mmol_per_l=potassium_mmol_per_l, plasma_mmol_per_l=plasma_mmol_per_l,
        preferred_share_frac=preferred_share_frac,
    )
    physical("sweat_l", sweat_l, low=0.0)
    tolerated_l = c.TOLERATED_DEFICIT_FRAC * mass_kg
    replaced_frac = min(max(1.0 - tolerated_l / sweat_l, 0.0), c.MAX_REPLACED_FRAC) if sweat_l > 0.0 else 0.0
    needed = float(sodium_share_frac(
        replaced_frac, sodium_mmol_per_l=sodium_mmol_per_l,
        potassium_mmol_per_l=potassium_mmol_per_l, plasma_mmol_per_l=plasma_mmol_per_l,
    ))
    share = min(max(needed, preferred_share_frac), 1.0)
    sweat_sodium_mg = sodium_mg(sodium_mmol_per_l * sweat_l)
    return PlanTargets(replaced_frac * sweat_l, share * sweat_sodium_mg, replaced_frac, share, needed)
