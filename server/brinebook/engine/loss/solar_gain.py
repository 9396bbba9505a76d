"""Radiant heat the sun gives a sitting person, by the comfort standard; the sweat chain uses another form."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinebook.engine.constants import comparison as c
from brinebook.engine.constants.sweat import BODY_ABSORPTIVITY
from brinebook.engine.errors import physical
from brinebook.engine.units import FloatArray, Floats


@dataclass(frozen=True, slots=True)
class SolarGain:
    """Effective radiant field, and by how much it lifts the mean radiant temperature."""

    effective_field_w_per_m2: FloatArray
    radiant_rise_c: FloatArray


def projected_area_ashrae55_frac(elevation_deg: Floats, *, sun_angle_deg: Floats) -> FloatArray:
    """
    Share of a sitting body's radiating surface that the beam sees.

    Parameters
    ----------
    elevation_deg : float or array, shape (n,)
        Elevation of the sun, 0-90 [deg].
    sun_angle_deg : float or array, shape (n,)
        Sun from the front of the body, 0-180 [deg].

    Returns
    -------
    float or array, shape (n,)
        Projected area [frac], between the lines of a table of 15 deg.

    Raises
    ------
    UnphysicalInput
        If an angle is outside the table.

    References
    ----------
    .. [1] Source key ``ashrae55``.

    Examples
    --------
    >>> round(float(projected_area_ashrae55_frac(45.0, sun_angle_deg=0.0)), 3)
    0.303
    """
    table = np.array(c.SITTING_PROJECTED_FRAC)
    row, row_share = _cell(physical("sun_angle_deg", sun_angle_deg, low=0.0, high=180.0), c.SUN_ANGLES_DEG)
    column, column_share = _cell(physical("elevation_deg", elevation_deg, low=0.0, high=90.0), c.SUN_HEIGHTS_DEG)
    near = table[row, column] * (1.0 - column_share) + table[row, column + 1] * column_share
    far = table[row + 1, column] * (1.0 - column_share) + table[row + 1, column + 1] * column_share
    return np.asarray(near * (1.0 - row_share) + far * row_share, dtype=np.float64)


def _cell(value: FloatArray, lines: tuple[float, ...]) -> tuple[NDArray[np.intp], FloatArray]:
    width = lines[1] - lines[0]
    below = np.minimum(value // width, len(lines) - 2).astype(np.intp)
    return below, value / width - below


def solar_gain_ashrae55(  # noqa: PLR0913 - sun, glass and body
    elevation_deg: Floats,
    *,
    sun_angle_deg: Floats,
    direct_normal_w_per_m2: Floats,
    transmittance_frac: Floats = 1.0,
    sky_view_frac: Floats = 1.0,
    exposed_frac: Floats = 1.0,
    absorptivity_frac: Floats = BODY_ABSORPTIVITY,
    reflectance_frac: Floats = c.FLOOR_REFLECTANCE_FRAC,
) -> SolarGain:
    """
    Effective radiant field of the sun on a sitting person; comparison only.

    Parameters
    ----------
    elevation_deg : float or array, shape (n,)
        Elevation of the sun, 0-90 [deg].
    sun_angle_deg : float or array, shape (n,)
        Sun from the front of the body, 0-180 [deg].
    direct_normal_w_per_m2 : float or array, shape (n,)
        Direct normal irradiance [W/m2]; a fifth of it is taken as diffuse.
    transmittance_frac : float or array, shape (n,)
        Share the glass lets through, one outdoors [frac].
    sky_view_frac : float or array, shape (n,)
        Share of the sky the body sees [frac].
    exposed_frac : float or array, shape (n,)
        Share of the body the beam reaches [frac].
    absorptivity_frac : float or array, shape (n,)
        Share of sunlight that skin and cloth take [frac].
    reflectance_frac : float or array, shape (n,)
        Share of sunlight the ground throws back [frac].

    Returns
    -------
    SolarGain
        Arrays of shape (n,).

    Raises
    ------
    UnphysicalInput
        If an angle is outside the table, a share outside 0-1, or an irradiance negative.

    References
    ----------
    .. [1] Source key ``ashrae55``.

    Examples
    --------
    >>> gain = solar_gain_ashrae55(45.0, sun_angle_deg=0.0, direct_normal_w_per_m2=700.0, transmittance_frac=0.8,
    ...                            sky_view_frac=0.2, exposed_frac=0.5)
    >>> round(float(gain.effective_field_w_per_m2), 1), round(float(gain.radiant_rise_c), 1)
    (64.9, 15.5)
    """
    beam = physical("direct_normal_w_per_m2", direct_normal_w_per_m2, low=0.0)
    beam = beam * physical("transmittance_frac", transmittance_frac, low=0.0, high=1.0)
    seen = 0.5 * physical("sky_view_frac", sky_view_frac, low=0.0, high=1.0)
    exposed = physical("exposed_frac", exposed_frac, low=0.0, high=1.0)
    absorbed = physical("absorptivity_frac", absorptivity_frac, low=0.0, high=1.0) / c.LONG_WAVE_ABSORPTIVITY_FRAC
    thrown_back = physical("reflectance_frac", reflectance_frac, low=0.0, high=1.0)
    projected = projected_area_ashrae55_frac(elevation_deg, sun_angle_deg=sun_angle_deg)
    horizontal = np.sin(np.radians(np.asarray(elevation_deg, dtype=np.float64))) + c.DIFFUSE_PER_BEAM_FRAC
    per_beam = seen * c.DIFFUSE_PER_BEAM_FRAC + projected * exposed + seen * horizontal * thrown_back
    rise = beam * per_beam * absorbed / c.RADIATIVE_W_PER_M2_K
    return SolarGain(rise * c.RADIATIVE_W_PER_M2_K * c.SITTING_AREA_FRAC, rise)
