"""Moist air: vapour pressure, dew point, wet bulb, pressure with height, density, wind near the ground."""

import numpy as np

from brinebook.engine.constants import road
from brinebook.engine.errors import finite, physical
from brinebook.engine.units import FloatArray, Floats

BISECTIONS = 50


def saturation_vapour_pressure_pa(air_temperature_c: Floats) -> FloatArray:
    """
    Saturation vapour pressure over water, Buck 1996.

    Parameters
    ----------
    air_temperature_c : float or array, shape (n,)
        Air temperature [degC].

    Returns
    -------
    array, shape (n,)
        Saturation vapour pressure [Pa].

    Notes
    -----
    Valid from -30 to 55 degC; 0.04 percent below the ASHRAE tables at 25 degC.

    References
    ----------
    .. [1] Source key ``buck1996``.

    Examples
    --------
    >>> round(float(saturation_vapour_pressure_pa(20.0)), 1)
    2338.3
    """
    t_c = physical("air_temperature_c", air_temperature_c)
    exponent = (road.BUCK_SLOPE - t_c / road.BUCK_CURVE_C) * t_c / (road.BUCK_OFFSET_C + t_c)
    return np.asarray(road.BUCK_PA * np.exp(exponent))


def saturation_vapour_pressure_magnus_pa(air_temperature_c: Floats) -> FloatArray:
    """
    Saturation vapour pressure over water in the Magnus form, for comparison only: 0.2-0.3 percent low.

    Parameters
    ----------
    air_temperature_c : float or array, shape (n,)
        Air temperature [degC].

    Returns
    -------
    array, shape (n,)
        Saturation vapour pressure [Pa].

    References
    ----------
    .. [1] Source key ``wmo_cimo``.
    """
    t_c = physical("air_temperature_c", air_temperature_c)
    return np.asarray(road.MAGNUS_PA * np.exp(road.MAGNUS_SLOPE * t_c / (road.MAGNUS_OFFSET_C + t_c)))


def vapour_pressure_pa(air_temperature_c: Floats, *, relative_humidity_frac: Floats) -> FloatArray:
    """
    Partial pressure of water vapour.

    Parameters
    ----------
    air_temperature_c : float or array, shape (n,)
        Air temperature [degC].
    relative_humidity_frac : float or array, shape (n,)
        Relative humidity over water [frac].

    Returns
    -------
    array, shape (n,)
        Vapour pressure [Pa].

    References
    ----------
    .. [1] Source key ``buck1996``.
    """
    humidity_frac = physical("relative_humidity_frac", relative_humidity_frac, low=0.0, high=1.0)
    return np.asarray(humidity_frac * saturation_vapour_pressure_pa(air_temperature_c))


def dew_point_c(vapour_pressure_pa: Floats) -> FloatArray:
    """
    Temperature at which this vapour pressure saturates: the exact inverse of the Buck form.

    Parameters
    ----------
    vapour_pressure_pa : float or array, shape (n,)
        Vapour pressure, above zero [Pa].

    Returns
    -------
    array, shape (n,)
        Dew point [degC].

    References
    ----------
    .. [1] Source key ``buck1996``.
    """
    pressure_pa = physical("vapour_pressure_pa", vapour_pressure_pa, low=float(np.finfo(np.float64).tiny))
    ratio_log = np.log(pressure_pa / road.BUCK_PA)
    slope = road.BUCK_SLOPE - ratio_log
    root = np.sqrt(slope**2 - 4.0 * ratio_log * road.BUCK_OFFSET_C / road.BUCK_CURVE_C)
    return np.asarray(road.BUCK_CURVE_C / 2.0 * (slope - root))


def wet_bulb_c(air_temperature_c: Floats, *, relative_humidity_frac: Floats, pressure_pa: Floats) -> FloatArray:
    """
    Thermodynamic wet-bulb temperature, by bisection of the psychrometer equation above freezing.

    Parameters
    ----------
    air_temperature_c : float or array, shape (n,)
        Air temperature [degC].
    relative_humidity_frac : float or array, shape (n,)
        Relative humidity [frac].
    pressure_pa : float or array, shape (n,)
        Station pressure [Pa].

    Returns
    -------
    array, shape (n,)
        Wet-bulb temperature [degC].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    Notes
    -----
    Valid where the wet bulb is above 0 degC.

    References
    ----------
    .. [1] Source key ``ashrae2017``, eq. 33.
    """
    finite(air_temperature_c=air_temperature_c, relative_humidity_frac=relative_humidity_frac, pressure_pa=pressure_pa)
    t_c = physical("air_temperature_c", air_temperature_c)
    vapour_pa = vapour_pressure_pa(t_c, relative_humidity_frac=relative_humidity_frac)
    present = _humidity_ratio(vapour_pa, pressure_pa=pressure_pa)
    low_c, high_c = dew_point_c(np.maximum(vapour_pa, 1.0)), t_c + np.zeros_like(vapour_pa)
    latent, cooling, air_heat, vapour_heat, water_heat = road.PSYCHROMETRIC_WATER_J_PER_G
    for _ in range(BISECTIONS):
        middle_c = (low_c + high_c) / 2.0
        saturated = _humidity_ratio(saturation_vapour_pressure_pa(middle_c), pressure_pa=pressure_pa)
        held = ((latent - cooling * middle_c) * saturated - air_heat * (t_c - middle_c)) / (
            latent + vapour_heat * t_c - water_heat * middle_c
        )
        is_too_warm = held > present
        high_c, low_c = np.where(is_too_warm, middle_c, high_c), np.where(is_too_warm, low_c, middle_c)
    return np.asarray((low_c + high_c) / 2.0)


def _humidity_ratio(vapour_pa: FloatArray, *, pressure_pa: Floats) -> FloatArray:
    return np.asarray(road.HUMIDITY_RATIO * vapour_pa / (pressure_pa - vapour_pa))


def standard_pressure_pa(elevation_m: Floats) -> FloatArray:
    """
    Air pressure of the standard atmosphere.

    Parameters
    ----------
    elevation_m : float or array, shape (n,)
        Height above sea level [m].

    Returns
    -------
    array, shape (n,)
        Pressure [Pa].

    References
    ----------
    .. [1] Source key ``icao7488``.
    """
    height_m = physical("elevation_m", elevation_m, low=-500.0, high=9000.0)
    thinning = (1.0 - road.PRESSURE_LAPSE_PER_M * height_m) ** road.PRESSURE_EXPONENT
    return np.asarray(road.SEA_LEVEL_PRESSURE_PA * thinning)


def sea_level_pressure_pa(station_pressure_pa: Floats, *, elevation_m: Floats, air_temperature_c: Floats) -> FloatArray:
    """
    Pressure reduced to sea level from a station.

    Parameters
    ----------
    station_pressure_pa : float or array, shape (n,)
        Pressure at the station [Pa].
    elevation_m : float or array, shape (n,)
        Height of the station [m].
    air_temperature_c : float or array, shape (n,)
        Air temperature at the station [degC].

    Returns
    -------
    array, shape (n,)
        Pressure at sea level [Pa].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``ashrae2017``, as psychrolib reduces it.
    """
    finite(station_pressure_pa=station_pressure_pa, elevation_m=elevation_m, air_temperature_c=air_temperature_c)
    height_m = physical("elevation_m", elevation_m)
    column_k = air_temperature_c + road.KELVIN_AT_ZERO_C + road.PRESSURE_HALF_LAPSE_K_PER_M * height_m
    return np.asarray(station_pressure_pa * np.exp(height_m / (road.SCALE_HEIGHT_M_PER_K * column_k)))


def air_density_kg_per_m3(air_temperature_c: Floats, *, vapour_pressure_pa: Floats, pressure_pa: Floats) -> FloatArray:
    """
    Density of moist air.

    Parameters
    ----------
    air_temperature_c : float or array, shape (n,)
        Air temperature [degC].
    vapour_pressure_pa : float or array, shape (n,)
        Vapour pressure [Pa].
    pressure_pa : float or array, shape (n,)
        Station pressure [Pa].

    Returns
    -------
    array, shape (n,)
        Density [kg/m3].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``icao7488``.
    """
    finite(air_temperature_c=air_temperature_c, vapour_pressure_pa=vapour_pressure_pa, pressure_pa=pressure_pa)
    air_k = physical("air_temperature_c", air_temperature_c) + road.KELVIN_AT_ZERO_C
    dry_kg_per_m3 = (pressure_pa - vapour_pressure_pa) / (road.DRY_AIR_GAS_J_PER_KG_K * air_k)
    return np.asarray(dry_kg_per_m3 + vapour_pressure_pa / (road.VAPOUR_GAS_J_PER_KG_K * air_k))


def wind_at_two_metres_m_per_s(wind_m_per_s: Floats, *, measured_at_m: Floats = 10.0) -> FloatArray:
    """
    Wind at 2 m over short grass from wind measured higher up.

    Parameters
    ----------
    wind_m_per_s : float or array, shape (n,)
        Wind at the height of measurement [m/s].
    measured_at_m : float or array, shape (n,)
        Height of measurement [m].

    Returns
    -------
    array, shape (n,)
        Wind at 2 m [m/s].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``fao56``, eq. 47.
    """
    finite(wind_m_per_s=wind_m_per_s, measured_at_m=measured_at_m)
    height_m = physical("measured_at_m", measured_at_m, low=0.5)
    return np.asarray(
        wind_m_per_s * road.WIND_LOG_NUMERATOR / np.log(road.WIND_LOG_SLOPE_PER_M * height_m - road.WIND_LOG_OFFSET)
    )
