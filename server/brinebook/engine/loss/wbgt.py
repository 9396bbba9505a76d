"""Wet-bulb globe temperature for the screen; it never enters the sweat chain."""

from typing import cast

from brinebook.engine.constants import comparison as c
from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import physical
from brinebook.engine.units import Floats


def wbgt_simple_c(air_temperature_c: Floats, *, vapour_pressure_kpa: Floats) -> Floats:
    """
    Wet-bulb globe temperature from air temperature and vapour alone, for display only.

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
