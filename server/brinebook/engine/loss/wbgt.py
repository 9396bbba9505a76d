"""Wet-bulb globe temperature for the screen; it never enters the sweat chain."""

from typing import cast

import numpy as np
import thermofeel

from brinebook.engine.constants import comparison as c
from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import physical
from brinebook.engine.loss.heat_balance import saturation_pressure_kpa
from brinebook.engine.units import ZERO_CELSIUS_K, FloatArray, Floats


def wbgt_liljegren2008_c(  # noqa: PLR0913 - air, wind and sky
    air_temperature_c: Floats,
    *,
    relative_humidity_frac: Floats,
    wind_m_per_s: Floats,
    pressure_pa: Floats,
    solar_w_per_m2: Floats,
    direct_frac: Floats,
    sun_elevation_deg: Floats,
) -> FloatArray:
    """
    Outdoor wet-bulb globe temperature from weather, sun and wind, for display only.

    Parameters
    ----------
    air_temperature_c : float or array, shape (n,)
        Air temperature [C].
    relative_humidity_frac : float or array, shape (n,)
        Relative humidity [frac].
    wind_m_per_s : float or array, shape (n,)
        Wind at 10 m, not the rider's own; below 0.62 m/s it counts as 0.62 [m/s].
    pressure_pa : float or array, shape (n,)
        Air pressure at the place [Pa].
    solar_w_per_m2 : float or array, shape (n,)
        Global irradiance [W/m2].
    direct_frac : float or array, shape (n,)
        Share of it that is beam [frac].
    sun_elevation_deg : float or array, shape (n,)
        Height of the sun [deg].

    Returns
    -------
    array, shape (n,)
        Wet-bulb globe temperature of somebody standing there [C]. Where the library's iteration does not end, the
        simple form stands in its place, which reads high.

    Raises
    ------
    UnphysicalInput
        If an input is not finite or a humidity, wind or irradiance is negative.

    References
    ----------
    .. [1] Source key ``liljegren2008``.
    """
    air_c = physical("air_temperature_c", air_temperature_c, low=-60.0, high=60.0)
    humidity = physical("relative_humidity_frac", relative_humidity_frac, low=0.0, high=1.0)
    columns = np.broadcast_arrays(
        air_c + ZERO_CELSIUS_K,
        100.0 * humidity,
        physical("pressure_pa", pressure_pa, low=c.WBGT_PRESSURE_PA[0], high=c.WBGT_PRESSURE_PA[1]) / 100.0,
        physical("wind_m_per_s", wind_m_per_s, low=0.0),
        physical("solar_w_per_m2", solar_w_per_m2, low=0.0),
        physical("direct_frac", direct_frac, low=0.0, high=1.0),
        np.sin(np.radians(physical("sun_elevation_deg", sun_elevation_deg, low=-90.0, high=90.0))),
    )
    air_k, percent, pressure_hpa, wind, solar, direct, sine = (
        np.atleast_1d(column).astype(np.float64) for column in columns
    )
    with np.errstate(all="ignore"):
        found_c = np.asarray(thermofeel.calculate_wbgt_liljegren(
            air_k, percent, pressure_hpa, wind, solar, direct, sine
        ), dtype=np.float64) - ZERO_CELSIUS_K
    found_c = found_c.reshape(columns[0].shape)
    simple_c = wbgt_simple_c(air_c, vapour_pressure_kpa=humidity * saturation_pressure_kpa(air_c))
    return np.asarray(np.where(np.isfinite(found_c), found_c, simple_c), dtype=np.float64)


def wbgt_simple_c(air_temperature_c: Floats, *, vapour_pressure_kpa: Floats) -> Floats:
    """
    Wet-bulb globe temperature from air temperature and vapour alone: the last resort where sun and wind are unknown.

    Parameters
    ----------
    air_temperature_c : float or array, shape (n,)
        Air temperature [C].
    vapour_pressure_kpa : float or array, shape (n,)
        Vapour pressure of the air [kPa].

    Returns
    -------
    float or array, shape (n,)
        Wet-bulb globe temperature [C]; knows no wind and no sun, reads 0.4-1.5 high in sun, 2.4-4.6 high in humid
        cloud and at night.

    Raises
    ------
    UnphysicalInput
        If an input is not finite or the vapour pressure negative.

    References
    ----------
    .. [1] Source key ``wbgt_simple``.

    Examples
    --------
    >>> round(float(wbgt_simple_c(25.0, vapour_pressure_kpa=1.58)), 1)
    24.3
    """
    vapour_hpa = physical("vapour_pressure_kpa", vapour_pressure_kpa, low=0.0) * 10.0
    air_c = physical("air_temperature_c", air_temperature_c)
    return cast("Floats", k.WBGT_PER_C * air_c + k.WBGT_PER_HPA * vapour_hpa + k.WBGT_BASE_C)


def wbgt_measured_sun_c(natural_wet_bulb_c: Floats, *, globe_c: Floats, air_temperature_c: Floats) -> Floats:
    """
    Wet-bulb globe temperature in the sun from three measured temperatures.

    Parameters
    ----------
    natural_wet_bulb_c : float or array, shape (n,)
        Natural wet bulb temperature [C].
    globe_c : float or array, shape (n,)
        Black globe temperature [C].
    air_temperature_c : float or array, shape (n,)
        Air temperature in the shade [C].

    Returns
    -------
    float or array, shape (n,)
        Wet-bulb globe temperature [C].

    Raises
    ------
    UnphysicalInput
        If a temperature is not finite.

    References
    ----------
    .. [1] Source key ``iso7243``.

    Examples
    --------
    >>> round(float(wbgt_measured_sun_c(25.0, globe_c=32.0, air_temperature_c=20.0)), 1)
    25.9
    """
    wet, globe, air = c.WBGT_SUN
    mixed = wet * physical("natural_wet_bulb_c", natural_wet_bulb_c) + globe * physical("globe_c", globe_c)
    return cast("Floats", mixed + air * physical("air_temperature_c", air_temperature_c))


def wbgt_measured_shade_c(natural_wet_bulb_c: Floats, *, globe_c: Floats) -> Floats:
    """
    Wet-bulb globe temperature without sun from two measured temperatures.

    Parameters
    ----------
    natural_wet_bulb_c : float or array, shape (n,)
        Natural wet bulb temperature [C].
    globe_c : float or array, shape (n,)
        Black globe temperature [C].

    Returns
    -------
    float or array, shape (n,)
        Wet-bulb globe temperature [C].

    Raises
    ------
    UnphysicalInput
        If a temperature is not finite.

    References
    ----------
    .. [1] Source key ``iso7243``.

    Examples
    --------
    >>> round(float(wbgt_measured_shade_c(25.0, globe_c=30.0)), 1)
    26.5
    """
    wet, globe = c.WBGT_SHADE
    mixed = wet * physical("natural_wet_bulb_c", natural_wet_bulb_c) + globe * physical("globe_c", globe_c)
    return cast("Floats", mixed)
