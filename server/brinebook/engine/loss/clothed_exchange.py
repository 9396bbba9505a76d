"""How a working body in cloth trades heat and vapour with the air around it, by ISO 7933."""

from dataclasses import dataclass

import numpy as np

from brinebook.engine.constants import heat_strain as iso
from brinebook.engine.constants import sweat as k
from brinebook.engine.constants.heat_strain import HeatStrainEdition
from brinebook.engine.units import FloatArray


@dataclass(frozen=True, slots=True)
class Surroundings:
    """Air, radiation, cloth and walk of n cases, each of shape (n,)."""

    air_temperature_c: FloatArray
    radiant_temperature_c: FloatArray
    vapour_pressure_kpa: FloatArray
    air_speed_m_per_s: FloatArray
    metabolic_rate_w_per_m2: FloatArray
    clothing_clo: FloatArray
    walk_m_per_s: FloatArray
    wind_angle_deg: FloatArray
    radiating_area_frac: FloatArray
    reflective_area_frac: FloatArray


@dataclass(frozen=True, slots=True)
class ClothedExchange:
    """What stays the same from minute to minute, each of shape (n,)."""

    air_c: FloatArray
    forced_w_per_m2_k: FloatArray
    clothing_area_frac: FloatArray
    cloth_m2_k_per_w: FloatArray
    vapour_m2_kpa_per_w: FloatArray
    radiation_w_per_m2_k4: FloatArray
    radiant_k4: FloatArray
    breath_w_per_m2: FloatArray
    breath_evaporation_w_per_m2: FloatArray


def air_layer_correction_frac(air_speed_m_per_s: FloatArray, *, walk_m_per_s: FloatArray) -> FloatArray:
    """
    Share of the still-air layer that wind and walking leave, before its clip at one.

    Parameters
    ----------
    air_speed_m_per_s : array, shape (n,)
        Air over the body [m/s].
    walk_m_per_s : array, shape (n,)
        Walking speed [m/s].

    Returns
    -------
    array, shape (n,)
        Correction [frac]. It turns at 5 m/s and stands above one from 10.4 m/s: no use at the speed of a bicycle.

    References
    ----------
    .. [1] Source key ``iso7933``.

    Examples
    --------
    >>> air_layer_correction_frac(np.array([3.0, 11.0]), walk_m_per_s=np.array([0.7, 0.7])).round(3).tolist()
    [0.309, 1.367]
    """
    return _correction(iso.AIR_LAYER_CORRECTION, air_speed_m_per_s, walk_m_per_s)


def _correction(terms: tuple[float, ...], air_speed_m_per_s: FloatArray, walk_m_per_s: FloatArray) -> FloatArray:
    factor, air_square, air_linear, walk_square, walk_linear = terms
    walk = np.minimum(walk_m_per_s, iso.CORRECTION_WALK_MAX_M_PER_S)
    by_air = (air_square * air_speed_m_per_s - air_linear) * air_speed_m_per_s
    return np.asarray(factor * np.exp(by_air + (walk_square * walk - walk_linear) * walk), dtype=np.float64)


def clothed_exchange(place: Surroundings, edition: HeatStrainEdition) -> ClothedExchange:
    """
    Resistances, coefficients and breath of n cases.

    Parameters
    ----------
    place : Surroundings
        Air, radiation, cloth and walk.
    edition : HeatStrainEdition
        Edition of the standard.

    Returns
    -------
    ClothedExchange
        Arrays of shape (n,).

    References
    ----------
    .. [1] Source key ``iso7933``.
    """
    area = 1.0 + edition.clothing_area_per_clo * place.clothing_clo
    cloth, vapour = _resistances(place, area)
    radiant_k = place.radiant_temperature_c + iso.RADIATION_ZERO_C
    covered = place.reflective_area_frac
    emissivity = (1.0 - covered) * iso.CLOTH_EMISSIVITY_FRAC + covered * edition.reflective_emissivity_frac
    air, vapour_kpa = place.air_temperature_c, place.vapour_pressure_kpa
    expired = k.EXPIRED_BASE_C + k.EXPIRED_PER_C * air + k.EXPIRED_PER_KPA * vapour_kpa
    humid = k.BREATH_EVAPORATION_BASE + k.BREATH_EVAPORATION_PER_C * air - k.BREATH_EVAPORATION_PER_KPA * vapour_kpa
    return ClothedExchange(
        air_c=air,
        forced_w_per_m2_k=_forced_w_per_m2_k(_relative_air_m_per_s(place)),
        clothing_area_frac=area,
        cloth_m2_k_per_w=cloth,
        vapour_m2_kpa_per_w=vapour,
        radiation_w_per_m2_k4=emissivity * k.STEFAN_BOLTZMANN_W_PER_M2_K4 * place.radiating_area_frac,
        radiant_k4=radiant_k**4,
        breath_w_per_m2=k.BREATH_CONVECTION * place.metabolic_rate_w_per_m2 * (expired - air),
        breath_evaporation_w_per_m2=k.BREATH_EVAPORATION * place.metabolic_rate_w_per_m2 * humid,
    )


def _resistances(place: Surroundings, area: FloatArray) -> tuple[FloatArray, FloatArray]:
    speed, walk, clo = _relative_air_m_per_s(place), _walk_m_per_s(place), place.clothing_clo
    slow = np.minimum(speed, iso.CORRECTION_AIR_MAX_M_PER_S)
    of_cloth = np.minimum(1.0, _correction(iso.CLOTHING_CORRECTION, slow, walk))
    of_layer = np.minimum(1.0, air_layer_correction_frac(speed, walk_m_per_s=walk))
    clothed = np.minimum(clo / iso.CLOTHED_FROM_CLO, 1.0)
    correction = (1.0 - clothed) * of_layer + clothed * of_cloth
    layer = iso.STILL_AIR_LAYER_M2_K_PER_W / area
    total = (k.INSULATION_M2_K_PER_W_CLO * clo + layer) * correction
    square, linear, constant = iso.PERMEABILITY_WIND
    permeable = iso.STATIC_PERMEABILITY_FRAC * ((square * correction - linear) * correction + constant)
    vapour = total / (np.minimum(iso.PERMEABILITY_MAX_FRAC, permeable) * iso.LEWIS_K_PER_KPA)
    return total - layer * of_layer, vapour


def _walk_m_per_s(place: Surroundings) -> FloatArray:
    guess = iso.WALK_PER_W_PER_M2 * (place.metabolic_rate_w_per_m2 - iso.WALK_FROM_W_PER_M2)
    return np.where(place.walk_m_per_s > 0.0, place.walk_m_per_s, np.minimum(iso.WALK_GUESS_MAX_M_PER_S, guess))


def _relative_air_m_per_s(place: Surroundings) -> FloatArray:
    walk, air = place.walk_m_per_s, place.air_speed_m_per_s
    one_way = np.abs(air - walk * np.cos(np.radians(place.wind_angle_deg)))
    any_way = np.maximum(air, walk)
    return np.where(walk > 0.0, np.where(place.wind_angle_deg != 0.0, one_way, any_way), air)


def _forced_w_per_m2_k(air_speed_m_per_s: FloatArray) -> FloatArray:
    still, per_speed = iso.FORCED_SLOW
    factor, exponent = iso.FORCED_FAST
    slow = still + per_speed * air_speed_m_per_s
    return np.where(air_speed_m_per_s <= 1.0, slow, factor * air_speed_m_per_s**exponent)


def natural_w_per_m2_k(apart_c: FloatArray) -> FloatArray:
    """
    Convection of a surface warmer or colder than still air.

    Parameters
    ----------
    apart_c : array, shape (n,)
        Surface less air temperature [C].

    Returns
    -------
    array, shape (n,)
        Convection coefficient [W/m2/K].

    References
    ----------
    .. [1] Source key ``iso7933``.

    Examples
    --------
    >>> float(natural_w_per_m2_k(np.array([16.0]))[0])
    4.76
    """
    return iso.NATURAL_CONVECTION * np.sqrt(np.sqrt(np.abs(apart_c)))


def clothing_temperature_c(
    guess_c: FloatArray, *, skin_c: FloatArray, body: ClothedExchange, convection_w_per_m2_k: FloatArray, n_steps: int
) -> FloatArray:
    """
    Temperature at which the cloth passes on to air and walls just what the skin gives it.

    Parameters
    ----------
    guess_c : array, shape (n,)
        Where to begin [C].
    skin_c : array, shape (n,)
        Skin temperature [C].
    body : ClothedExchange
        Resistances and coefficients.
    convection_w_per_m2_k : array, shape (n,)
        Convection coefficient of the minute [W/m2/K].
    n_steps : int
        Newton steps; the balance is monotone and convex, so that two suffice from the minute before.

    Returns
    -------
    array, shape (n,)
        Clothing temperature [C].

    References
    ----------
    .. [1] Source key ``iso7933``.
    """
    through = 1.0 / body.cloth_m2_k_per_w
    by_air = body.clothing_area_frac * convection_w_per_m2_k
    by_walls = body.clothing_area_frac * body.radiation_w_per_m2_k4
    # Terms that no step changes: what skin, air and walls bring.
    brought = through * skin_c + by_air * body.air_c + by_walls * body.radiant_k4
    given = through + by_air
    four = 4.0 * by_walls
    cloth = guess_c
    for _ in range(n_steps):
        kelvin = cloth + iso.RADIATION_ZERO_C
        cube = kelvin * kelvin * kelvin
        cloth = cloth + (brought - given * cloth - by_walls * cube * kelvin) / (given + four * cube)
    return cloth
