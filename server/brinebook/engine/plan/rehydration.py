"""Between stages: what to drink until bed, what the body keeps of it, and what to drink before the start."""

from dataclasses import dataclass

import numpy as np

from brinebook.engine.constants import balance as c
from brinebook.engine.errors import finite, physical, physical_positive
from brinebook.engine.units import Floats, sodium_mg


def urine_fraction_frac(intake_ratio_frac: Floats, *, sodium_mmol_per_l: Floats) -> Floats:
    """
    Share of a drink that leaves as urine within 7.5 h.

    Parameters
    ----------
    intake_ratio_frac : float or array, shape (n,)
        Drink over loss [frac].
    sodium_mmol_per_l : float or array, shape (n,)
        Sodium of the drink [mmol/L].

    Returns
    -------
    float or array, shape (n,)
        Urine over drink [frac].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    Notes
    -----
    Fit of six means; valid for 20-61 mmol/L and intakes of 1-2 times the loss, without food.

    References
    ----------
    .. [1] Source key ``shirreffs1996``.

    Examples
    --------
    >>> float(round(urine_fraction_frac(1.5, sodium_mmol_per_l=40.0), 2))
    0.32
    """
    finite(intake_ratio_frac=intake_ratio_frac, sodium_mmol_per_l=sodium_mmol_per_l)
    intercept, per_ratio, per_sodium = c.URINE_FRACTION_FIT
    share_frac: Floats = np.clip(intercept + per_ratio * intake_ratio_frac + per_sodium * sodium_mmol_per_l, 0.0, 1.0)
    return share_frac


def balancing_ratio_frac(sodium_mmol_per_l: float) -> float:
    """
    Intake over loss at which as much stays as was lost.

    Parameters
    ----------
    sodium_mmol_per_l : float
        Sodium of drink and meal together [mmol/L].

    Returns
    -------
    float
        Ratio; where none balances, the one that leaves most [frac].

    References
    ----------
    .. [1] Root of m (1 - U/V) = 1 on the fit to Source key ``shirreffs1996``.

    Examples
    --------
    >>> round(balancing_ratio_frac(40.0), 2)
    1.46
    """
    physical("sodium_mmol_per_l", sodium_mmol_per_l, low=0.0)
    intercept, per_ratio, per_sodium = c.URINE_FRACTION_FIT
    kept = 1.0 - intercept - per_sodium * sodium_mmol_per_l
    discriminant = kept * kept - 4.0 * per_ratio
    if discriminant < 0.0:
        return kept / (2.0 * per_ratio)
    return float((kept - np.sqrt(discriminant)) / (2.0 * per_ratio))


def rehydration_l(deficit_l: float, *, sodium_mmol_per_l: float, hours_to_start_h: float) -> float:
    """
    Volume that makes good a deficit.

    Parameters
    ----------
    deficit_l : float
        Water still owed; at or below zero nothing is owed [L].
    sodium_mmol_per_l : float
        Sodium of drink and meal together [mmol/L].
    hours_to_start_h : float
        Time until the next start [h].

    Returns
    -------
    float
        Volume to drink [L].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Bounds from Source key ``mcdermott2017``; ratio from Source key ``shirreffs1996``.

    Examples
    --------
    >>> round(rehydration_l(1.5, sodium_mmol_per_l=40.0, hours_to_start_h=8.0), 1)
    2.2
    """
    finite(deficit_l=deficit_l, sodium_mmol_per_l=sodium_mmol_per_l, hours_to_start_h=hours_to_start_h)
    physical("hours_to_start_h", hours_to_start_h, low=0.0)
    least, most = c.QUICK_RATIO if hours_to_start_h < c.QUICK_RECOVERY_H else c.SLOW_RATIO
    return max(deficit_l, 0.0) * min(max(balancing_ratio_frac(sodium_mmol_per_l), least), most)


@dataclass(frozen=True, slots=True)
class EveningPlan:
    """What to drink after a stage, and what is still owed at the next start."""

    drink_l: float
    drink_until_bed_l: float
    sodium_mg: float
    """Sodium to take with drinks and meals."""
    max_rate_l_per_h: float
    drink_sodium_mg_per_l: float
    """Sodium to aim at in the drink; 0 when the meal carries it."""
    carried_over_l: float


def evening_drink(
    deficit_l: float,
    *,
    sodium_owed_mg: float,
    hours_to_start_h: float,
    hours_to_bed_h: float,
    meal_water_l_per_h: float = c.OBLIGATORY_LOSS_L_PER_H,
) -> EveningPlan:
    """
    Drink from the finish until bed.

    Parameters
    ----------
    deficit_l : float
        Sweat and urine less water drunk at the finish [L].
    sodium_owed_mg : float
        Sodium lost less sodium taken in [mg].
    hours_to_start_h : float
        Time until the next start [h].
    hours_to_bed_h : float
        Time until bed; nothing is forced in the last hour before it [h].
    meal_water_l_per_h : float
        Water that comes unasked with meals and habit until the next start; by default it makes good the
        obligatory losses of urine, skin and breath [L/h].

    Returns
    -------
    EveningPlan
        Volume, sodium, the rate not to exceed, and what is carried into the next day.

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``balance_pin``, section 9; rate, Source key ``lambert2008``; losses, Source key ``iom_losses``.

    Examples
    --------
    >>> round(evening_drink(1.5, sodium_owed_mg=2000.0, hours_to_start_h=16.0, hours_to_bed_h=5.0).drink_l, 2)
    1.88
    """
    finite(
        deficit_l=deficit_l, sodium_owed_mg=sodium_owed_mg, hours_to_start_h=hours_to_start_h,
        hours_to_bed_h=hours_to_bed_h, meal_water_l_per_h=meal_water_l_per_h,
    )
    physical("hours_to_bed_h", hours_to_bed_h, low=0.0)
    owed_l = max(deficit_l, 0.0)
    is_quick = hours_to_start_h < c.SALTED_DRINK_WITHIN_H
    density = c.EVENING_DRINK_SODIUM_MMOL_PER_L if is_quick else c.MEAL_DRINK_SODIUM_MMOL_PER_L
    drink_l = rehydration_l(owed_l, sodium_mmol_per_l=density, hours_to_start_h=hours_to_start_h)
    time_h = max(min(hours_to_bed_h - c.NO_DRINK_BEFORE_BED_H, hours_to_start_h), 0.0)
    until_bed_l = min(drink_l, c.MAX_EVENING_INTAKE_L_PER_H * time_h)
    kept_l = _kept_l(owed_l, drunk_l=until_bed_l, sodium_mmol_per_l=density)
    ongoing_l = (c.OBLIGATORY_LOSS_L_PER_H - meal_water_l_per_h) * hours_to_start_h
    return EveningPlan(
        drink_l=drink_l,
        drink_until_bed_l=until_bed_l,
        sodium_mg=max(sodium_owed_mg, 0.0),
        max_rate_l_per_h=c.MAX_EVENING_INTAKE_L_PER_H,
        drink_sodium_mg_per_l=sodium_mg(density) if is_quick else 0.0,
        carried_over_l=max(owed_l - kept_l + ongoing_l, 0.0),
    )


def _kept_l(owed_l: float, *, drunk_l: float, sodium_mmol_per_l: float) -> float:
    """Return what stays of a drink."""
    if owed_l <= 0.0:
        return 0.0
    urine_frac = float(urine_fraction_frac(drunk_l / owed_l, sodium_mmol_per_l=sodium_mmol_per_l))
    return drunk_l * (1.0 - urine_frac)


def pre_stage_drink_l(carried_over_l: float, *, mass_kg: float) -> float:
    """
    Drink 2-4 h before the start for what is still owed.

    Parameters
    ----------
    carried_over_l : float
        Deficit carried into the day [L].
    mass_kg : float
        Body mass [kg].

    Returns
    -------
    float
        At least 5 mL/kg, at most 10 mL/kg [L].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``thomas2016``.

    Examples
    --------
    >>> pre_stage_drink_l(0.0, mass_kg=70.0)
    0.35
    """
    finite(carried_over_l=carried_over_l, mass_kg=mass_kg)
    physical_positive("mass_kg", mass_kg)
    least_l, most_l = (per_kg * mass_kg / 1000.0 for per_kg in c.PRE_STAGE_DRINK_ML_PER_KG)
    return min(max(carried_over_l, least_l), most_l)
