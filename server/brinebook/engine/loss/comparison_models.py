"""Sweat equations of marching soldiers, for comparison only: never at the air speed of a bicycle."""

from typing import cast

import numpy as np

from brinebook.engine.constants import comparison as c
from brinebook.engine.errors import UnphysicalInput, physical, physical_positive
from brinebook.engine.units import Floats
from brinebook.engine.validity import Violation, range_violations

MODEL = "shapiro_family"


def sweat_rate_shapiro1982_g_per_m2_h(
    required_evaporation_w_per_m2: Floats, *, max_evaporation_w_per_m2: Floats
) -> Floats:
    """
    Sweat rate by the equation of Shapiro and others (OSE); comparison only, never at cycling air speed.

    Parameters
    ----------
    required_evaporation_w_per_m2 : float or array, shape (n,)
        Evaporation that heat balance asks for [W/m2].
    max_evaporation_w_per_m2 : float or array, shape (n,)
        Evaporation that air and cloth allow [W/m2].

    Returns
    -------
    float or array, shape (n,)
        Sweat rate [g/m2/h].

    Raises
    ------
    UnphysicalInput
        If the capacity is not above zero, or an input is not finite.

    Notes
    -----
    Fitted at wind up to 2.5 m/s; ask ``shapiro_family_violations`` before showing a number.

    References
    ----------
    .. [1] Source key ``shapiro1982``.

    Examples
    --------
    >>> round(float(sweat_rate_shapiro1982_g_per_m2_h(300.0, max_evaporation_w_per_m2=200.0)), 1)
    751.2
    """
    required = physical("required_evaporation_w_per_m2", required_evaporation_w_per_m2)
    capacity = physical_positive("max_evaporation_w_per_m2", max_evaporation_w_per_m2)
    return cast("Floats", c.OSE_FACTOR * required * capacity**c.OSE_EXPONENT)


def sweat_rate_gonzalez2009_corrected_g_per_m2_h(
    required_evaporation_w_per_m2: Floats, *, max_evaporation_w_per_m2: Floats
) -> Floats:
    """
    Sweat rate by the corrected Shapiro equation (OSEC); comparison only, never at cycling air speed.

    Parameters
    ----------
    required_evaporation_w_per_m2 : float or array, shape (n,)
        Evaporation that heat balance asks for [W/m2].
    max_evaporation_w_per_m2 : float or array, shape (n,)
        Evaporation that air and cloth allow [W/m2].

    Returns
    -------
    float or array, shape (n,)
        Sweat rate [g/m2/h].

    Raises
    ------
    UnphysicalInput
        If the capacity is not above zero, or an input is not finite.

    Notes
    -----
    Fitted at wind up to 2.5 m/s; ask ``shapiro_family_violations`` before showing a number.

    References
    ----------
    .. [1] Source key ``gonzalez2009``.

    Examples
    --------
    >>> round(float(sweat_rate_gonzalez2009_corrected_g_per_m2_h(300.0, max_evaporation_w_per_m2=200.0)), 1)
    362.1
    """
    original = sweat_rate_shapiro1982_g_per_m2_h(
        required_evaporation_w_per_m2, max_evaporation_w_per_m2=max_evaporation_w_per_m2
    )
    return cast("Floats", c.OSEC_FACTOR_G_PER_M2_H * np.exp(c.OSEC_PER_OSE * original))


def sweat_rate_gonzalez2009_g_per_m2_h(
    required_evaporation_w_per_m2: Floats, *, max_evaporation_w_per_m2: Floats
) -> Floats:
    """
    Sweat rate by the piecewise equation of Gonzalez and others (PW); comparison only, never at cycling air speed.

    Parameters
    ----------
    required_evaporation_w_per_m2 : float or array, shape (n,)
        Evaporation that heat balance asks for [W/m2].
    max_evaporation_w_per_m2 : float or array, shape (n,)
        Evaporation that air and cloth allow [W/m2].

    Returns
    -------
    float or array, shape (n,)
        Sweat rate [g/m2/h]. Negative in moving air: it takes off 0.87 of a capacity that grows with speed.

    Raises
    ------
    UnphysicalInput
        If an input is not finite.

    Notes
    -----
    Above 169 W/m2 of capacity it stands below the heat balance it came from.

    References
    ----------
    .. [1] Source key ``gonzalez2009``.

    Examples
    --------
    >>> round(float(sweat_rate_gonzalez2009_g_per_m2_h(150.0, max_evaporation_w_per_m2=600.0)), 1)
    -146.0
    """
    return c.PW_BASE_G_PER_M2_H + _piecewise(required_evaporation_w_per_m2, max_evaporation_w_per_m2)


def sweat_rate_gonzalez2012_cool_g_per_m2_h(
    required_evaporation_w_per_m2: Floats, *, max_evaporation_w_per_m2: Floats
) -> Floats:
    """
    Sweat rate by the piecewise equation for cool air (PW,cool); comparison only, never at cycling air speed.

    Parameters
    ----------
    required_evaporation_w_per_m2 : float or array, shape (n,)
        Evaporation that heat balance asks for [W/m2].
    max_evaporation_w_per_m2 : float or array, shape (n,)
        Evaporation that air and cloth allow [W/m2].

    Returns
    -------
    float or array, shape (n,)
        Sweat rate [g/m2/h]; made for air below 20 C.

    Raises
    ------
    UnphysicalInput
        If an input is not finite.

    References
    ----------
    .. [1] Source key ``gonzalez2012``.

    Examples
    --------
    >>> round(float(sweat_rate_gonzalez2012_cool_g_per_m2_h(150.0, max_evaporation_w_per_m2=600.0)), 1)
    57.0
    """
    return c.PW_COOL_BASE_G_PER_M2_H + _piecewise(required_evaporation_w_per_m2, max_evaporation_w_per_m2)


def _piecewise(required_evaporation_w_per_m2: Floats, max_evaporation_w_per_m2: Floats) -> Floats:
    required = physical("required_evaporation_w_per_m2", required_evaporation_w_per_m2)
    capacity = physical("max_evaporation_w_per_m2", max_evaporation_w_per_m2)
    return cast("Floats", c.PW_PER_REQUIRED * required - c.PW_PER_CAPACITY * capacity)


def shapiro_family_violations(
    air_temperature_c: Floats,
    *,
    vapour_pressure_kpa: Floats,
    air_speed_m_per_s: Floats,
    metabolic_rate_w_per_m2: Floats,
) -> tuple[Violation, ...]:
    """
    Say what puts a place outside the data of the four equations above.

    Parameters
    ----------
    air_temperature_c : float or array, shape (n,)
        Air temperature [C].
    vapour_pressure_kpa : float or array, shape (n,)
        Vapour pressure of the air [kPa].
    air_speed_m_per_s : float or array, shape (n,)
        Air over the body [m/s].
    metabolic_rate_w_per_m2 : float or array, shape (n,)
        Metabolic rate [W/m2].

    Returns
    -------
    tuple of Violation
        The worst value of each quantity out of range; a moving bicycle always has one.

    References
    ----------
    .. [1] Source key ``gonzalez2009``.

    Examples
    --------
    >>> [found.quantity for found in shapiro_family_violations(
    ...     25.0, vapour_pressure_kpa=1.6, air_speed_m_per_s=6.7, metabolic_rate_w_per_m2=400.0)]
    ['air_speed_m_per_s']
    """
    place = {
        "air_temperature_c": air_temperature_c,
        "vapour_pressure_kpa": vapour_pressure_kpa,
        "air_speed_m_per_s": air_speed_m_per_s,
        "metabolic_rate_w_per_m2": metabolic_rate_w_per_m2,
    }
    return tuple(
        violation
        for quantity, values in place.items()
        for violation in range_violations(
            MODEL, quantity, physical(quantity, values),
            low=c.SHAPIRO_FAMILY_RANGES[quantity][0], high=c.SHAPIRO_FAMILY_RANGES[quantity][1],
        )
    )


def convection_by_author_w_per_m2_k(air_speed_m_per_s: Floats, *, author: str) -> Floats:
    """
    Convection coefficient of one author, all carried far beyond their data at cycling speed.

    Parameters
    ----------
    air_speed_m_per_s : float or array, shape (n,)
        Air over the body [m/s].
    author : str
        ``kerslake1972`` (the chain's own), ``iso7933`` or ``dedear1997``.

    Returns
    -------
    float or array, shape (n,)
        Convection coefficient [W/m2/K].

    Raises
    ------
    UnphysicalInput
        If the author is unknown, or a speed is negative or not finite.

    References
    ----------
    .. [1] Source key ``kerslake1972``.
    .. [2] Source key ``iso7933``.
    .. [3] Source key ``dedear1997``.

    Examples
    --------
    >>> round(float(convection_by_author_w_per_m2_k(11.11, author="dedear1997")), 1)
    43.7
    """
    if author not in c.CONVECTION_W_PER_M2_K:
        raise UnphysicalInput(f"author {author}", np.nan)
    speed = physical("air_speed_m_per_s", air_speed_m_per_s, low=0.0)
    return cast("Floats", c.CONVECTION_W_PER_M2_K[author] * speed**c.CONVECTION_EXPONENT)
