"""From power and weather to sweat: an explicit heat balance, one steady state per road segment."""

from dataclasses import dataclass

import numpy as np

from brinebook.engine.constants import sweat as k
from brinebook.engine.constants.sweat import ChainParameters
from brinebook.engine.errors import finite, physical, physical_positive
from brinebook.engine.units import ZERO_CELSIUS_K, FloatArray, Floats

DEFAULT_CHAIN = ChainParameters()


@dataclass(frozen=True, slots=True)
class HeatBalance:
    """Steady state of each segment; flows are per square metre of body surface."""

    sweat_rate_l_per_h: FloatArray
    sweat_rate_g_per_m2_h: FloatArray
    respiratory_l_per_h: FloatArray
    wettedness_frac: FloatArray
    evaporative_efficiency_frac: FloatArray
    is_at_cap: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]
    required_evaporation_w_per_m2: FloatArray
    max_evaporation_w_per_m2: FloatArray
    dry_loss_w_per_m2: FloatArray
    heat_production_w_per_m2: FloatArray
    metabolic_power_w: FloatArray
    skin_temperature_c: FloatArray
    convection_w_per_m2_k: FloatArray
    body_surface_m2: float


def saturation_pressure_kpa(temperature_c: Floats) -> FloatArray:
    """
    Vapour pressure of saturated air.

    Parameters
    ----------
    temperature_c : float or array, shape (n,)
        Temperature [C].

    Returns
    -------
    float or array, shape (n,)
        Vapour pressure [kPa].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``iso7933``.

    Examples
    --------
    >>> round(float(saturation_pressure_kpa(25.0)), 3)
    3.166
    """
    finite(temperature_c=temperature_c)
    temperature = np.asarray(temperature_c, dtype=np.float64)
    exponent = k.SATURATION_SLOPE * temperature / (temperature + k.SATURATION_OFFSET_C)
    return np.asarray(k.SATURATION_KPA * np.exp(exponent), dtype=np.float64)


def body_surface_dubois1916_m2(mass_kg: float, *, height_m: float) -> float:
    """
    Body surface of an adult.

    Parameters
    ----------
    mass_kg : float
        Body mass [kg].
    height_m : float
        Height [m].

    Returns
    -------
    float
        Surface [m2].

    Raises
    ------
    UnphysicalInput
        If mass or height is not above zero.

    References
    ----------
    .. [1] Source key ``dubois1916``.

    Examples
    --------
    >>> round(body_surface_dubois1916_m2(68.0, height_m=1.78), 4)
    1.8481
    """
    mass = float(physical_positive("mass_kg", mass_kg))
    height_cm = 100.0 * float(physical_positive("height_m", height_m))
    return float(k.DUBOIS_FACTOR * mass**k.DUBOIS_MASS_EXPONENT * height_cm**k.DUBOIS_HEIGHT_EXPONENT)


def mean_radiant_temperature_c(
    air_temperature_c: Floats,
    *,
    global_w_per_m2: Floats,
    diffuse_w_per_m2: Floats,
    direct_normal_w_per_m2: Floats,
    elevation_deg: Floats,
    albedo_frac: Floats = 0.2,
) -> FloatArray:
    """
    Mean radiant temperature of an upright body in the sun, with surroundings at air temperature.

    Parameters
    ----------
    air_temperature_c : float or array, shape (n,)
        Air temperature [C].
    global_w_per_m2 : float or array, shape (n,)
        Global horizontal irradiance [W/m2].
    diffuse_w_per_m2 : float or array, shape (n,)
        Diffuse horizontal irradiance [W/m2].
    direct_normal_w_per_m2 : float or array, shape (n,)
        Direct normal irradiance [W/m2].
    elevation_deg : float or array, shape (n,)
        Elevation of the sun; the beam counts only above the horizon [deg].
    albedo_frac : float or array, shape (n,)
        Share of global irradiance the ground reflects [frac].

    Returns
    -------
    float or array, shape (n,)
        Mean radiant temperature [C].

    Raises
    ------
    UnphysicalInput
        If an input is not finite or an irradiance negative.

    References
    ----------
    .. [1] Source key ``dinapoli2020``.

    Examples
    --------
    >>> round(float(mean_radiant_temperature_c(
    ...     25.0, global_w_per_m2=775.0, diffuse_w_per_m2=120.0, direct_normal_w_per_m2=800.0, elevation_deg=55.0,
    ... )), 2)
    55.04
    """
    air_k = physical("air_temperature_c", air_temperature_c) + ZERO_CELSIUS_K
    glob = physical("global_w_per_m2", global_w_per_m2, low=0.0)
    diffuse = physical("diffuse_w_per_m2", diffuse_w_per_m2, low=0.0)
    direct = physical("direct_normal_w_per_m2", direct_normal_w_per_m2, low=0.0)
    elevation = physical("elevation_deg", elevation_deg, low=-90.0, high=90.0)
    angle_deg = elevation * (k.PROJECTED_AREA_ANGLE - elevation**2 / k.PROJECTED_AREA_DEG2)
    projected_frac = np.where(elevation > 0.0, k.PROJECTED_AREA_FRAC * np.cos(np.radians(angle_deg)), 0.0)
    absorbed_w_per_m2 = 0.5 * diffuse + 0.5 * physical("albedo_frac", albedo_frac, low=0.0, high=1.0) * glob
    absorbed_w_per_m2 = absorbed_w_per_m2 + projected_frac * direct
    solar_k4 = k.BODY_ABSORPTIVITY / k.BODY_EMISSIVITY * absorbed_w_per_m2 / k.STEFAN_BOLTZMANN_W_PER_M2_K4
    return np.asarray((air_k**4 + solar_k4) ** 0.25 - ZERO_CELSIUS_K, dtype=np.float64)


def heat_balance(  # noqa: PLR0913 - rider, air and sky of one segment
    power_w: Floats,
    *,
    mass_kg: float,
    height_m: float,
    air_temperature_c: Floats,
    relative_humidity_frac: Floats,
    air_speed_m_per_s: Floats,
    radiant_temperature_c: Floats,
    gross_efficiency_frac: float = k.GROSS_EFFICIENCY_FRAC,
    metabolic_floor_w: float = k.METABOLIC_FLOOR_W,
    parameters: ChainParameters = DEFAULT_CHAIN,
) -> HeatBalance:
    """
    Steady sweat rate of a rider on each segment.

    Parameters
    ----------
    power_w : float or array, shape (n,)
        Power at the pedals [W].
    mass_kg : float
        Body mass [kg].
    height_m : float
        Height [m].
    air_temperature_c : float or array, shape (n,)
        Air temperature [C].
    relative_humidity_frac : float or array, shape (n,)
        Relative humidity, 0-1 [frac].
    air_speed_m_per_s : float or array, shape (n,)
        Air over the rider, shelter included [m/s].
    radiant_temperature_c : float or array, shape (n,)
        Mean radiant temperature [C].
    gross_efficiency_frac : float
        Pedal power per metabolic power [frac].
    metabolic_floor_w : float
        Metabolic power of a coasting rider [W].
    parameters : ChainParameters
        Clothing, exchange, clips, base term and cap.

    Returns
    -------
    HeatBalance
        Arrays of shape (n,), or 0-dimensional for scalars. Respiratory water is water lost, but not sweat.

    Raises
    ------
    UnphysicalInput
        If an input is not finite, negative where it cannot be, or humidity is above one.

    Notes
    -----
    The base term and the cap are ours, fitted to four derived field anchors; see ``validity`` for the ranges.

    References
    ----------
    .. [1] Source key ``sweat_chain``.
    .. [2] Source key ``iso7933``.
    .. [3] Source key ``kerslake1972``.

    Examples
    --------
    >>> round(float(heat_balance(
    ...     230.0, mass_kg=68.0, height_m=1.78, air_temperature_c=25.0, relative_humidity_frac=0.5,
    ...     air_speed_m_per_s=11.11, radiant_temperature_c=25.0, gross_efficiency_frac=0.23, metabolic_floor_w=0.0,
    ... ).sweat_rate_l_per_h), 3)
    0.972
    """
    surface_m2 = body_surface_dubois1916_m2(mass_kg, height_m=height_m)
    metabolic_w, heat_w_per_m2 = _heat_production(
        power_w, surface_m2=surface_m2, gross_efficiency_frac=gross_efficiency_frac, floor_w=metabolic_floor_w
    )
    air = _Air(
        physical("air_temperature_c", air_temperature_c, low=-50.0, high=70.0),
        physical("radiant_temperature_c", radiant_temperature_c, low=-80.0, high=200.0),
        physical("air_speed_m_per_s", air_speed_m_per_s, low=0.0, high=50.0),
        saturation_pressure_kpa(air_temperature_c)
        * physical("relative_humidity_frac", relative_humidity_frac, low=0.0, high=1.0),
    )
    exchange = _exchange(air, parameters)
    # Breath follows heat, not metabolic power: above the floor they are proportional, and below it a light push would
    # otherwise be cooled by its own breath.
    breathing_w_per_m2 = heat_w_per_m2 / (1.0 - gross_efficiency_frac)
    breath_w_per_m2, breath_evaporation_w_per_m2 = _breath(breathing_w_per_m2, air)
    other_losses_w_per_m2 = breath_w_per_m2 + breath_evaporation_w_per_m2 + parameters.storage_w_per_m2
    required = heat_w_per_m2 - exchange.dry_w_per_m2 - other_losses_w_per_m2
    # A soft floor at zero keeps the rate rising smoothly out of the cold instead of from a corner.
    evaporated = parameters.softness_w_per_m2 * np.logaddexp(0.0, required / parameters.softness_w_per_m2)
    can_evaporate = exchange.max_evaporation_w_per_m2 > 0.0
    wettedness = np.where(
        can_evaporate,
        evaporated / np.where(can_evaporate, exchange.max_evaporation_w_per_m2, 1.0),
        k.WETTEDNESS_NO_EVAPORATION,
    )
    efficiency = np.maximum(parameters.efficiency_min_frac, _efficiency_frac(wettedness))
    g_per_w_h = 3600.0 / k.LATENT_HEAT_J_PER_G
    uncapped = parameters.base_g_per_m2_h + evaporated / efficiency * g_per_w_h
    rate = np.minimum(parameters.cap_g_per_m2_h, uncapped)
    return HeatBalance(
        sweat_rate_l_per_h=rate * surface_m2 / 1000.0,
        sweat_rate_g_per_m2_h=rate,
        # In saturated air hotter than breath the flow of heat turns round, but no water is gained.
        respiratory_l_per_h=np.maximum(0.0, breath_evaporation_w_per_m2) * g_per_w_h * surface_m2 / 1000.0,
        wettedness_frac=wettedness,
        evaporative_efficiency_frac=efficiency,
        is_at_cap=np.asarray(uncapped >= parameters.cap_g_per_m2_h),
        required_evaporation_w_per_m2=required,
        max_evaporation_w_per_m2=exchange.max_evaporation_w_per_m2,
        dry_loss_w_per_m2=exchange.dry_w_per_m2,
        heat_production_w_per_m2=heat_w_per_m2,
        metabolic_power_w=metabolic_w,
        skin_temperature_c=exchange.skin_c,
        convection_w_per_m2_k=exchange.convection_w_per_m2_k,
        body_surface_m2=surface_m2,
    )


@dataclass(frozen=True, slots=True)
class _Air:
    temperature_c: FloatArray
    radiant_c: FloatArray
    speed_m_per_s: FloatArray
    vapour_kpa: FloatArray


@dataclass(frozen=True, slots=True)
class _Exchange:
    skin_c: FloatArray
    convection_w_per_m2_k: FloatArray
    dry_w_per_m2: FloatArray
    max_evaporation_w_per_m2: FloatArray


def _heat_production(
    power_w: Floats, *, surface_m2: float, gross_efficiency_frac: float, floor_w: float
) -> tuple[FloatArray, FloatArray]:
    power = physical("power_w", power_w, low=0.0)
    efficiency = float(physical("gross_efficiency_frac", gross_efficiency_frac, low=0.1, high=0.4))
    # The floor bears on heat, not on metabolic power: else a light push on the pedals would cool the rider.
    metabolic_w = np.maximum(power / efficiency, power + float(physical("metabolic_floor_w", floor_w, low=0.0)))
    return metabolic_w, (metabolic_w - power) / surface_m2


def _exchange(air: _Air, chain: ChainParameters) -> _Exchange:
    skin = (
        k.SKIN_BASE_C
        + k.SKIN_PER_AIR_C * air.temperature_c
        + k.SKIN_PER_RADIANT_C * np.minimum(air.radiant_c, air.temperature_c + k.SKIN_RADIANT_EXCESS_MAX_C)
        + k.SKIN_PER_KPA * air.vapour_kpa
        - k.SKIN_PER_M_PER_S * np.minimum(air.speed_m_per_s, chain.skin_air_speed_max_m_per_s)
        + k.SKIN_PER_CORE_C * chain.core_temperature_c
    )
    convection = np.maximum(
        k.CONVECTION_MIN_W_PER_M2_K, chain.convection_w_per_m2_k * air.speed_m_per_s**chain.convection_exponent_n
    )
    mean_k = ZERO_CELSIUS_K + (skin + air.radiant_c) / 2.0
    radiation = 4.0 * chain.emissivity_frac * k.STEFAN_BOLTZMANN_W_PER_M2_K4 * chain.radiating_area_frac * mean_k**3
    operative = (convection * air.temperature_c + radiation * air.radiant_c) / (convection + radiation)
    clothing_area = 1.0 + chain.clothing_area_per_clo * chain.insulation_clo
    insulation = k.INSULATION_M2_K_PER_W_CLO * chain.insulation_clo
    dry_resistance = insulation + 1.0 / (clothing_area * (convection + radiation))
    vapour_resistance = (
        insulation / (chain.permeability_frac * chain.lewis_k_per_kpa)
        + 1.0 / (clothing_area * chain.lewis_k_per_kpa * convection)
    )
    return _Exchange(
        skin_c=skin,
        convection_w_per_m2_k=convection,
        dry_w_per_m2=(skin - operative) / dry_resistance,
        max_evaporation_w_per_m2=(saturation_pressure_kpa(skin) - air.vapour_kpa) / vapour_resistance,
    )


def _breath(breathing_w_per_m2: FloatArray, air: _Air) -> tuple[FloatArray, FloatArray]:
    expired = k.EXPIRED_BASE_C + k.EXPIRED_PER_C * air.temperature_c + k.EXPIRED_PER_KPA * air.vapour_kpa
    warmed = k.BREATH_CONVECTION * breathing_w_per_m2 * (expired - air.temperature_c)
    humid = (
        k.BREATH_EVAPORATION_BASE
        + k.BREATH_EVAPORATION_PER_C * air.temperature_c
        - k.BREATH_EVAPORATION_PER_KPA * air.vapour_kpa
    )
    return warmed, k.BREATH_EVAPORATION * breathing_w_per_m2 * humid


def _efficiency_frac(wettedness_frac: FloatArray) -> FloatArray:
    soaked = np.clip(2.0 - wettedness_frac, 0.0, None) ** 2 / 2.0
    return np.where(wettedness_frac <= 1.0, 1.0 - wettedness_frac**2 / 2.0, soaked)
