"""The sun over the road: where it stands, what a clear sky gives, what clouds leave, and how it splits."""

from dataclasses import dataclass

import numpy as np
from numpy.polynomial.polynomial import polyval

from brinebook.engine.constants import road
from brinebook.engine.errors import finite, physical
from brinebook.engine.units import FloatArray, Floats

SECONDS_PER_DAY = 24.0 * 3600.0
QUARTER_DEG = 90.0


@dataclass(frozen=True, eq=False)
class SunPosition:
    """Where the sun stands; arrays of one shape."""

    elevation_deg: FloatArray
    """Height above the horizon, without refraction."""
    apparent_elevation_deg: FloatArray
    azimuth_deg: FloatArray
    """Clockwise from north."""
    equation_of_time_min: FloatArray
    orbit_frac: FloatArray
    """Irradiance above the air over its yearly mean."""


@dataclass(frozen=True, eq=False)
class Irradiance:
    """Sunlight on the road; arrays of one shape."""

    global_w_per_m2: FloatArray
    diffuse_w_per_m2: FloatArray
    direct_normal_w_per_m2: FloatArray


def sun_position(at_unix_s: Floats, *, latitude_deg: Floats, longitude_deg: Floats) -> SunPosition:
    """
    Place the sun in the sky, within 0.02 deg of the reference algorithm.

    Parameters
    ----------
    at_unix_s : float or array, shape (n,)
        Instant, seconds since 1970 in UTC [unix s].
    latitude_deg : float or array, shape (n,)
        Latitude, north positive [deg].
    longitude_deg : float or array, shape (n,)
        Longitude, east positive [deg].

    Returns
    -------
    SunPosition
        Elevation, azimuth and equation of time.

    Notes
    -----
    Takes instants, never local clock time: a wrong time zone moves the sun by 15 deg per hour.

    References
    ----------
    .. [1] Source key ``noaa2011``.
    """
    instant_s = physical("at_unix_s", at_unix_s)
    north_rad = np.radians(physical("latitude_deg", latitude_deg, low=-QUARTER_DEG, high=QUARTER_DEG))
    east_deg = physical("longitude_deg", longitude_deg, low=-180.0, high=180.0)
    julian_day = instant_s / SECONDS_PER_DAY + road.UNIX_EPOCH_JULIAN_DAY
    declination_rad, equation_min, orbit_frac = _orbit(julian_day)
    solar_min = instant_s % SECONDS_PER_DAY / 60.0 + equation_min + road.MINUTES_PER_DEGREE * east_deg
    hour_rad = np.radians(solar_min / road.MINUTES_PER_DEGREE - 180.0)
    sine = np.sin(north_rad) * np.sin(declination_rad) + np.cos(north_rad) * np.cos(declination_rad) * np.cos(hour_rad)
    elevation_deg = np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0)))
    azimuth_rad = np.arctan2(
        -np.sin(hour_rad) * np.cos(declination_rad),
        np.cos(north_rad) * np.sin(declination_rad)
        - np.sin(north_rad) * np.cos(declination_rad) * np.cos(hour_rad),
    )
    return SunPosition(
        elevation_deg=np.asarray(elevation_deg),
        apparent_elevation_deg=np.asarray(elevation_deg + _refraction_deg(elevation_deg)),
        azimuth_deg=np.asarray(np.degrees(azimuth_rad) % 360.0),
        equation_of_time_min=np.asarray(equation_min),
        orbit_frac=np.asarray(orbit_frac),
    )


def _orbit(julian_day: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    century = (julian_day - road.J2000_JULIAN_DAY) / road.DAYS_PER_CENTURY
    longitude_deg = _rising(century, road.MEAN_LONGITUDE_DEG)
    anomaly_deg = _rising(century, road.MEAN_ANOMALY_DEG)
    anomaly_rad = np.radians(anomaly_deg)
    eccentricity = _rising(century, road.ECCENTRICITY)
    centre_deg = (
        _rising(century, road.CENTRE_FIRST_DEG) * np.sin(anomaly_rad)
        + _rising(century, road.CENTRE_SECOND_DEG) * np.sin(2.0 * anomaly_rad)
        + road.CENTRE_THIRD_DEG * np.sin(3.0 * anomaly_rad)
    )
    node_rad = np.radians(_rising(century, road.NODE_DEG))
    apparent_rad = np.radians(
        longitude_deg + centre_deg - road.ABERRATION_DEG - road.NUTATION_DEG * np.sin(node_rad)
    )
    obliquity_rad = np.radians(
        _rising(century, road.OBLIQUITY_DEG) + road.OBLIQUITY_NUTATION_DEG * np.cos(node_rad)
    )
    declination_rad = np.arcsin(np.sin(obliquity_rad) * np.sin(apparent_rad))
    equation_min = _equation_of_time_min(longitude_deg, anomaly_deg, eccentricity, np.degrees(obliquity_rad))
    true_anomaly_rad = anomaly_rad + np.radians(centre_deg)
    distance = (1.0 - eccentricity**2) / (1.0 + eccentricity * np.cos(true_anomaly_rad))
    return declination_rad, equation_min, distance**-2.0


def _rising(value: FloatArray, coefficients: tuple[float, ...]) -> FloatArray:
    return np.asarray(polyval(value, coefficients), dtype=np.float64)


def _equation_of_time_min(
    longitude_deg: FloatArray, anomaly_deg: FloatArray, eccentricity_frac: FloatArray, obliquity_deg: FloatArray
) -> FloatArray:
    longitude_rad, anomaly_rad = np.radians(longitude_deg), np.radians(anomaly_deg)
    tilt = np.tan(np.radians(obliquity_deg) / 2.0) ** 2
    angle_rad = (
        tilt * np.sin(2.0 * longitude_rad)
        - 2.0 * eccentricity_frac * np.sin(anomaly_rad)
        + 4.0 * eccentricity_frac * tilt * np.sin(anomaly_rad) * np.cos(2.0 * longitude_rad)
        - tilt**2 / 2.0 * np.sin(4.0 * longitude_rad)
        - 5.0 / 4.0 * eccentricity_frac**2 * np.sin(2.0 * anomaly_rad)
    )
    return np.asarray(road.MINUTES_PER_DEGREE * np.degrees(angle_rad))


def _refraction_deg(elevation_deg: FloatArray) -> FloatArray:
    lift_deg, numerator_deg, offset_deg = road.REFRACTION_DEG
    above_deg = np.maximum(elevation_deg, -1.0)
    bent_deg = lift_deg / np.tan(np.radians(above_deg + numerator_deg / (above_deg + offset_deg)))
    return np.asarray(np.where(elevation_deg > -1.0, bent_deg, 0.0))


def clear_sky_w_per_m2(sun_elevation_deg: Floats) -> FloatArray:
    """
    Global irradiance under a clear sky at sea level.

    Parameters
    ----------
    sun_elevation_deg : float or array, shape (n,)
        Apparent elevation of the sun [deg].

    Returns
    -------
    array, shape (n,)
        Global horizontal irradiance, zero at night [W/m2].

    References
    ----------
    .. [1] Source key ``haurwitz1945``.

    Examples
    --------
    >>> round(float(clear_sky_w_per_m2(30.0)), 1)
    487.9
    """
    sine = np.sin(np.radians(physical("sun_elevation_deg", sun_elevation_deg)))
    height = np.maximum(sine, 1e-3)
    given_w_per_m2 = road.HAURWITZ_W_PER_M2 * height * np.exp(-road.HAURWITZ_EXTINCTION / height)
    return np.asarray(np.where(sine > 0.0, given_w_per_m2, 0.0))


def clear_sky_gain(elevation_m: Floats) -> FloatArray:
    """
    Factor on clear-sky irradiance for thinner air at height.

    Parameters
    ----------
    elevation_m : float or array, shape (n,)
        Height above sea level [m].

    Returns
    -------
    array, shape (n,)
        Factor from 1 to 1.2.

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``own_defaults``.
    """
    finite(elevation_m=elevation_m)
    return np.clip(1.0 + road.CLEAR_SKY_GAIN_PER_KM * np.asarray(elevation_m) / 1000.0, 1.0, road.CLEAR_SKY_GAIN_LIMIT)


def cloud_factor(cloud_frac: Floats) -> FloatArray:
    """
    Share of clear-sky irradiance that a cloudy sky leaves.

    Parameters
    ----------
    cloud_frac : float or array, shape (n,)
        Share of the sky covered [frac].

    Returns
    -------
    array, shape (n,)
        Share from 0.35 to 1.

    References
    ----------
    .. [1] Source key ``larson2016``.
    """
    covered_frac = physical("cloud_frac", cloud_frac, low=0.0, high=1.0)
    return np.asarray(road.CLOUDY_SHARE_FRAC + (1.0 - road.CLOUDY_SHARE_FRAC) * (1.0 - covered_frac))


def cloud_factor_kasten1980(cloud_frac: Floats) -> FloatArray:
    """
    Share of clear-sky irradiance that a cloudy sky leaves, in another form; for comparison only.

    Parameters
    ----------
    cloud_frac : float or array, shape (n,)
        Share of the sky that is covered [frac].

    Returns
    -------
    array, shape (n,)
        Factor on clear-sky irradiance [frac].

    Raises
    ------
    UnphysicalInput
        If the cover is not 0-1.

    References
    ----------
    .. [1] Source key ``kasten1980``.

    Examples
    --------
    >>> round(float(cloud_factor_kasten1980(1.0)), 2)
    0.25
    """
    covered_frac = physical("cloud_frac", cloud_frac, low=0.0, high=1.0)
    depth, exponent = road.KASTEN_CLOUD
    return np.asarray(1.0 - depth * covered_frac**exponent)


def split_irradiance(
    global_w_per_m2: Floats, *, sun_elevation_deg: Floats, orbit_frac: Floats = 1.0
) -> Irradiance:
    """
    Split global irradiance into diffuse light and the direct beam.

    Parameters
    ----------
    global_w_per_m2 : float or array, shape (n,)
        Global horizontal irradiance [W/m2].
    sun_elevation_deg : float or array, shape (n,)
        Elevation of the sun [deg].
    orbit_frac : float or array, shape (n,)
        Irradiance above the air over its yearly mean.

    Returns
    -------
    Irradiance
        Global, diffuse (both on the flat) and direct normal; near the horizon all light is diffuse.

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``erbs1982``.
    """
    finite(global_w_per_m2=global_w_per_m2, sun_elevation_deg=sun_elevation_deg, orbit_frac=orbit_frac)
    total_w_per_m2 = physical("global_w_per_m2", global_w_per_m2, low=0.0)
    elevation_deg = physical("sun_elevation_deg", sun_elevation_deg)
    is_low = elevation_deg < road.DIRECT_LOWEST_ELEVATION_DEG
    sine = np.sin(np.radians(np.maximum(elevation_deg, road.DIRECT_LOWEST_ELEVATION_DEG)))
    clearness = np.clip(total_w_per_m2 / (road.SOLAR_CONSTANT_W_PER_M2 * orbit_frac * sine), 0.0, 1.0)
    diffuse_frac = np.where(
        clearness <= road.ERBS_OVERCAST_BELOW,
        1.0 - road.ERBS_OVERCAST_SLOPE * clearness,
        np.where(clearness <= road.ERBS_CLEAR_ABOVE, polyval(clearness, road.ERBS_POLYNOMIAL), road.ERBS_CLEAR_FRAC),
    )
    diffuse_w_per_m2 = total_w_per_m2 * np.where(is_low, 1.0, diffuse_frac)
    return Irradiance(
        global_w_per_m2=np.asarray(total_w_per_m2 + 0.0 * sine),
        diffuse_w_per_m2=np.asarray(diffuse_w_per_m2),
        direct_normal_w_per_m2=np.asarray((total_w_per_m2 - diffuse_w_per_m2) / sine),
    )


def shaded(light: Irradiance, *, shade_frac: float = road.SHADE_FRAC) -> Irradiance:
    """
    Take a share off the direct beam, for trees, houses and gorges along a road.

    Parameters
    ----------
    light : Irradiance
        Sunlight in the open.
    shade_frac : float
        Share of the road in shade [frac].

    Returns
    -------
    Irradiance
        The same diffuse light and less of the beam.

    References
    ----------
    .. [1] Source key ``own_defaults``.
    """
    kept_frac = 1.0 - float(physical("shade_frac", shade_frac, low=0.0, high=1.0))
    beam_w_per_m2 = (light.global_w_per_m2 - light.diffuse_w_per_m2) * kept_frac
    return Irradiance(
        global_w_per_m2=light.diffuse_w_per_m2 + beam_w_per_m2,
        diffuse_w_per_m2=light.diffuse_w_per_m2,
        direct_normal_w_per_m2=light.direct_normal_w_per_m2 * kept_frac,
    )
