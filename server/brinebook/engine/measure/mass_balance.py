"""Sweat from two weighings: what left the body less what left by other ways than the skin."""

import math
from dataclasses import dataclass

from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import UnphysicalInput, finite, physical, physical_positive
from brinebook.engine.units import KPA_PER_MMHG, AnyFloats


@dataclass(frozen=True, slots=True)
class WeighedRideResult:
    """Sweat of a weighed ride and the two masses taken off before it; one litre counts as one kilogram."""

    sweat_l: float
    sweat_sd_l: float
    sweat_rate_l_per_h: float
    respiratory_kg: float
    gas_kg: float


def oxygen_uptake_l_per_min(metabolic_power_w: AnyFloats) -> AnyFloats:
    """
    Oxygen uptake that a metabolic power needs.

    Parameters
    ----------
    metabolic_power_w : float or array, shape (n,)
        Metabolic power, not power at the pedals [W].

    Returns
    -------
    float or array, shape (n,)
        Oxygen uptake [L/min].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``iom1996``.

    Examples
    --------
    >>> round(oxygen_uptake_l_per_min(1000.0), 2)
    2.87
    """
    finite(metabolic_power_w=metabolic_power_w)
    return metabolic_power_w * (60.0 / k.OXYGEN_J_PER_L)


def respiratory_water_kg(
    oxygen_uptake_l_per_min: AnyFloats, *, vapour_pressure_kpa: AnyFloats, duration_h: AnyFloats
) -> AnyFloats:
    """
    Water breathed out beyond the water breathed in.

    Parameters
    ----------
    oxygen_uptake_l_per_min : float or array, shape (n,)
        Oxygen uptake [L/min].
    vapour_pressure_kpa : float or array, shape (n,)
        Vapour pressure of the air [kPa].
    duration_h : float or array, shape (n,)
        Duration [h].

    Returns
    -------
    float or array, shape (n,)
        Respiratory water [kg].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``mitchell1972``.

    Examples
    --------
    >>> round(respiratory_water_kg(3.2, vapour_pressure_kpa=1.584, duration_h=4.5), 3)
    0.527
    """
    finite(
        oxygen_uptake_l_per_min=oxygen_uptake_l_per_min, vapour_pressure_kpa=vapour_pressure_kpa,
        duration_h=duration_h,
    )
    deficit_mmhg = k.BREATH_VAPOUR_PRESSURE_MMHG - vapour_pressure_kpa / KPA_PER_MMHG
    return k.RESPIRATION_G_PER_L_MMHG * oxygen_uptake_l_per_min * deficit_mmhg * duration_h * (60.0 / 1000.0)


def gas_exchange_kg(
    oxygen_uptake_l_per_min: AnyFloats,
    *,
    duration_h: AnyFloats,
    respiratory_exchange_frac: float = k.RESPIRATORY_EXCHANGE_FRAC,
) -> AnyFloats:
    """
    Mass of carbon dioxide breathed out less oxygen taken in.

    Parameters
    ----------
    oxygen_uptake_l_per_min : float or array, shape (n,)
        Oxygen uptake [L/min].
    duration_h : float or array, shape (n,)
        Duration [h].
    respiratory_exchange_frac : float
        Carbon dioxide out per oxygen in [frac].

    Returns
    -------
    float or array, shape (n,)
        Mass lost as gas [kg].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``mitchell1972``.

    Examples
    --------
    >>> round(gas_exchange_kg(3.2, duration_h=4.5), 3)
    0.303
    """
    finite(
        oxygen_uptake_l_per_min=oxygen_uptake_l_per_min, duration_h=duration_h,
        respiratory_exchange_frac=respiratory_exchange_frac,
    )
    g_per_l = k.CARBON_DIOXIDE_G_PER_L * respiratory_exchange_frac - k.OXYGEN_G_PER_L
    return oxygen_uptake_l_per_min * g_per_l * duration_h * (60.0 / 1000.0)


def weighed_ride(  # noqa: PLR0913 - one argument per line of the weighing form
    *,
    mass_before_kg: float,
    mass_after_kg: float,
    fluid_drunk_l: float,
    food_kg: float,
    urine_l: float,
    duration_h: float,
    power_w: float,
    gross_efficiency_frac: float,
    vapour_pressure_kpa: float,
    scale_sd_kg: float = k.RIDE_SCALE_SD_KG,
    kit_sweat_kg: float = 0.0,
    faeces_kg: float = 0.0,
) -> WeighedRideResult:
    """
    Whole-body sweat and sweat rate of a ride between two weighings.

    Parameters
    ----------
    mass_before_kg : float
        Nude mass before, voided [kg].
    mass_after_kg : float
        Nude mass after, towelled [kg].
    fluid_drunk_l : float
        Water drunk in between [L].
    food_kg : float
        Food eaten in between [kg].
    urine_l : float
        Urine passed in between [L].
    duration_h : float
        Time between the weighings, one hour at least [h].
    power_w : float
        Mean power at the pedals [W].
    gross_efficiency_frac : float
        Pedal power per metabolic power [frac].
    vapour_pressure_kpa : float
        Vapour pressure of the air [kPa].
    scale_sd_kg : float
        Spread of one weighing [kg].
    kit_sweat_kg : float
        Sweat held by clothes worn on the scale after [kg].
    faeces_kg : float
        Stool passed in between [kg].

    Returns
    -------
    WeighedRideResult
        Not clipped: a negative sweat says that a weighing or a bottle is wrong.

    Raises
    ------
    UnphysicalInput
        If the ride is shorter than an hour, or an input is impossible.

    References
    ----------
    .. [1] Source key ``mitchell1972``.

    Examples
    --------
    >>> ride = weighed_ride(
    ...     mass_before_kg=68.4, mass_after_kg=66.1, fluid_drunk_l=4.0, food_kg=0.35, urine_l=0.3, duration_h=4.5,
    ...     power_w=245.0, gross_efficiency_frac=0.22, vapour_pressure_kpa=1.6,
    ... )
    >>> round(ride.sweat_rate_l_per_h, 2)
    1.23
    """
    if not duration_h >= k.RIDE_MIN_H:
        raise UnphysicalInput("duration_h", duration_h)
    physical("gross_efficiency_frac", gross_efficiency_frac, low=0.1, high=0.4)
    gross_l = _gross_loss_l(
        mass_before_kg, mass_after_kg=mass_after_kg, drunk_l=fluid_drunk_l, food_kg=food_kg, urine_l=urine_l
    ) + _kit_less_faeces_kg(kit_sweat_kg, faeces_kg)
    uptake_l_per_min = oxygen_uptake_l_per_min(float(physical("power_w", power_w, low=0.0)) / gross_efficiency_frac)
    respiratory_kg = respiratory_water_kg(
        uptake_l_per_min,
        vapour_pressure_kpa=float(physical("vapour_pressure_kpa", vapour_pressure_kpa, low=0.0)),
        duration_h=duration_h,
    )
    gas_kg = gas_exchange_kg(uptake_l_per_min, duration_h=duration_h)
    sweat_l = gross_l - respiratory_kg - gas_kg
    sweat_sd_l = math.hypot(
        math.sqrt(2.0) * float(physical("scale_sd_kg", scale_sd_kg, low=0.0)),
        k.NON_SWEAT_SD_FRAC * (respiratory_kg + gas_kg),
    )
    return WeighedRideResult(sweat_l, sweat_sd_l, sweat_l / duration_h, respiratory_kg, gas_kg)


def stage_sweat_loss(  # noqa: PLR0913 - one argument per line of the weighing form
    *,
    mass_before_kg: float,
    mass_after_kg: float,
    drunk_l: float,
    food_kg: float,
    urine_l: float,
    energy_kcal: float,
    drunk_sd_l: float,
    urine_sd_l: float = k.URINE_SD_L,
    scale_sd_kg: float = k.SCALE_SD_KG,
    kit_sweat_kg: float = 0.0,
    faeces_kg: float = 0.0,
) -> tuple[float, float]:
    """
    Sweat of a stage from the scales and the settled bottles.

    Parameters
    ----------
    mass_before_kg : float
        Mass before the stage [kg].
    mass_after_kg : float
        Mass after the stage [kg].
    drunk_l : float
        Water drunk in between [L].
    food_kg : float
        Food eaten in between [kg].
    urine_l : float
        Urine passed in between [L].
    energy_kcal : float
        Energy spent [kcal].
    drunk_sd_l : float
        Spread of the water drunk [L].
    urine_sd_l : float
        Spread of urine and wet kit [L].
    scale_sd_kg : float
        Spread of one weighing [kg].
    kit_sweat_kg : float
        Sweat held by clothes worn on the scale after [kg].
    faeces_kg : float
        Stool passed in between [kg].

    Returns
    -------
    tuple of float
        Sweat and its spread [L]. Not clipped.

    Raises
    ------
    UnphysicalInput
        If an input is impossible.

    References
    ----------
    .. [1] Source key ``reconciliation``.
    .. [2] Source key ``cheuvront2017``.

    Examples
    --------
    >>> sweat_l, _ = stage_sweat_loss(
    ...     mass_before_kg=70.0, mass_after_kg=68.4, drunk_l=3.0, food_kg=0.35, urine_l=0.2, energy_kcal=4000.0,
    ...     drunk_sd_l=0.2,
    ... )
    >>> round(sweat_l, 3)
    3.95
    """
    gross_l = _gross_loss_l(
        mass_before_kg, mass_after_kg=mass_after_kg, drunk_l=drunk_l, food_kg=food_kg, urine_l=urine_l
    ) + _kit_less_faeces_kg(kit_sweat_kg, faeces_kg)
    non_sweat_kg = k.NON_SWEAT_KG_PER_KCAL * float(physical("energy_kcal", energy_kcal, low=0.0))
    sds_l = physical("sd", [scale_sd_kg, scale_sd_kg, drunk_sd_l, urine_sd_l], low=0.0)
    return gross_l - non_sweat_kg, math.hypot(*map(float, sds_l), k.NON_SWEAT_SD_FRAC * non_sweat_kg)


def _gross_loss_l(
    mass_before_kg: float, *, mass_after_kg: float, drunk_l: float, food_kg: float, urine_l: float
) -> float:
    physical_positive("mass_before_kg", mass_before_kg)
    physical_positive("mass_after_kg", mass_after_kg)
    for name, value in (("drunk_l", drunk_l), ("food_kg", food_kg), ("urine_l", urine_l)):
        physical(name, value, low=0.0)
    return mass_before_kg - mass_after_kg + drunk_l + food_kg - urine_l


def _kit_less_faeces_kg(kit_sweat_kg: float, faeces_kg: float) -> float:
    # Sweat in the clothes left the skin but not the scale; stool left the scale but was no sweat.
    physical("kit_sweat_kg", kit_sweat_kg, low=0.0)
    physical("faeces_kg", faeces_kg, low=0.0)
    return kit_sweat_kg - faeces_kg


def scale_rate_sd_l_per_h(scale_sd_kg: float, *, duration_h: float) -> float:
    """
    Spread of a sweat rate from the scale alone.

    Parameters
    ----------
    scale_sd_kg : float
        Spread of one weighing [kg].
    duration_h : float
        Time between the two weighings [h].

    Returns
    -------
    float
        Spread of the rate [L/h]; it is why ten minutes give none.

    Raises
    ------
    UnphysicalInput
        If the spread is negative or the time not above zero.

    References
    ----------
    .. [1] Source key ``sodium_estimator``.

    Examples
    --------
    >>> round(scale_rate_sd_l_per_h(0.05, duration_h=1 / 6), 2)
    0.42
    """
    spread_kg = float(physical("scale_sd_kg", scale_sd_kg, low=0.0))
    return math.sqrt(2.0) * spread_kg / float(physical_positive("duration_h", duration_h))
