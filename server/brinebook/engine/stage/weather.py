"""The forecast at each metre of road and each minute of the day: between hours, between points, up and down hills."""

from dataclasses import dataclass

import numpy as np

from brinebook.engine.constants import road
from brinebook.engine.errors import UnphysicalInput, physical
from brinebook.engine.stage.air import (
    air_density_kg_per_m3,
    dew_point_c,
    saturation_vapour_pressure_pa,
    standard_pressure_pa,
    vapour_pressure_pa,
)
from brinebook.engine.units import FloatArray

LOWEST_HUMIDITY_FRAC = 0.01


@dataclass(frozen=True, kw_only=True, eq=False)
class HourlyWeather:
    """
    Forecast rows of any number of points and hours, in any order; arrays of shape (r,).

    ``km`` counts from the real start. Wind is at 10 m. ``solar_w_per_m2`` is nan where the forecast gives none.
    """

    at_unix_s: FloatArray
    km: FloatArray
    elevation_m: FloatArray
    air_temperature_c: FloatArray
    relative_humidity_frac: FloatArray
    wind_m_per_s: FloatArray
    wind_from_deg: FloatArray
    cloud_frac: FloatArray
    solar_w_per_m2: FloatArray


@dataclass(frozen=True, eq=False)
class RoadWeather:
    """Weather met along the road; arrays of shape (n,). Wind is at the rider's height."""

    air_temperature_c: FloatArray
    vapour_pressure_pa: FloatArray
    relative_humidity_frac: FloatArray
    pressure_pa: FloatArray
    air_density_kg_per_m3: FloatArray
    wind_m_per_s: FloatArray
    wind_from_deg: FloatArray
    cloud_frac: FloatArray
    solar_w_per_m2: FloatArray
    """Global irradiance as forecast, nan where not given."""


def weather_along(
    weather: HourlyWeather,
    *,
    at_unix_s: FloatArray,
    km: FloatArray,
    elevation_m: FloatArray,
    lapse_k_per_km: float = road.LAPSE_K_PER_KM,
) -> RoadWeather:
    """
    Read the forecast where and when the rider is.

    Parameters
    ----------
    weather : HourlyWeather
        The forecast table.
    at_unix_s : array, shape (n,)
        When the rider is there [unix s].
    km : array, shape (n,)
        Distance from the real start [km].
    elevation_m : array, shape (n,)
        Height of the road [m].
    lapse_k_per_km : float
        Cooling with height [K/km].

    Returns
    -------
    RoadWeather
        Temperature, dew point and wind components are linear in time and along the road; then each point's air is
        moved to the height of the road at constant mixing ratio.

    Raises
    ------
    UnphysicalInput
        If the table is empty or holds a number no weather has.

    Notes
    -----
    Outside the hours given, the nearest hour holds; ``uncovered_h`` says by how much.

    References
    ----------
    .. [1] Source key ``icao7488``.
    """
    _check(weather)
    points_km = np.unique(weather.km)
    columns = [
        _at_point(weather, weather.km == point_km, at_unix_s, elevation_m, lapse_k_per_km) for point_km in points_km
    ]
    mixed = _between_points(np.stack(columns), points_km, km)
    air_c, vapour_pa, east, north, cloud_frac, solar_w_per_m2 = mixed
    saturated_pa = saturation_vapour_pressure_pa(air_c)
    humidity_frac = np.clip(vapour_pa / saturated_pa, LOWEST_HUMIDITY_FRAC, 1.0)
    pressure_pa = standard_pressure_pa(elevation_m)
    return RoadWeather(
        air_temperature_c=air_c,
        vapour_pressure_pa=humidity_frac * saturated_pa,
        relative_humidity_frac=humidity_frac,
        pressure_pa=pressure_pa,
        air_density_kg_per_m3=air_density_kg_per_m3(
            air_c, vapour_pressure_pa=humidity_frac * saturated_pa, pressure_pa=pressure_pa
        ),
        wind_m_per_s=np.hypot(east, north) * road.WIND_AT_RIDER_OPEN_FRAC,
        wind_from_deg=np.degrees(np.arctan2(east, north)) % 360.0,
        cloud_frac=cloud_frac,
        solar_w_per_m2=solar_w_per_m2,
    )


def _check(weather: HourlyWeather) -> None:
    if weather.at_unix_s.size == 0:
        raise UnphysicalInput("n_forecast_rows", 0.0)
    physical("at_unix_s", weather.at_unix_s)
    physical("air_temperature_c", weather.air_temperature_c, low=-60.0, high=60.0)
    physical("relative_humidity_frac", weather.relative_humidity_frac, low=LOWEST_HUMIDITY_FRAC, high=1.0)
    physical("wind_m_per_s", weather.wind_m_per_s, low=0.0)
    physical("cloud_frac", weather.cloud_frac, low=0.0, high=1.0)


def _at_point(
    weather: HourlyWeather,
    is_here: FloatArray,
    at_unix_s: FloatArray,
    elevation_m: FloatArray,
    lapse_k_per_km: float,
) -> FloatArray:
    here = np.flatnonzero(is_here)
    here = here[np.argsort(weather.at_unix_s[here], kind="stable")]
    known_s = weather.at_unix_s[here]
    vapour_pa = vapour_pressure_pa(
        weather.air_temperature_c[here], relative_humidity_frac=weather.relative_humidity_frac[here]
    )
    direction_rad = np.radians(weather.wind_from_deg[here])
    known = np.stack([
        weather.air_temperature_c[here],
        dew_point_c(vapour_pa),
        weather.wind_m_per_s[here] * np.sin(direction_rad),
        weather.wind_m_per_s[here] * np.cos(direction_rad),
        weather.cloud_frac[here],
        weather.solar_w_per_m2[here],
        weather.elevation_m[here],
    ])
    air_c, dew_c, east, north, cloud_frac, solar_w_per_m2, height_m = (
        np.interp(at_unix_s, known_s, column) for column in known
    )
    lifted_c = air_c - lapse_k_per_km * (elevation_m - height_m) / 1000.0
    thinning = standard_pressure_pa(elevation_m) / standard_pressure_pa(height_m)
    lifted_pa = saturation_vapour_pressure_pa(dew_c) * thinning
    return np.stack([lifted_c, lifted_pa, east, north, cloud_frac, solar_w_per_m2])


def _between_points(value: FloatArray, points_km: FloatArray, km: FloatArray) -> FloatArray:
    if points_km.size == 1:
        return np.asarray(value[0])
    before = np.clip(np.searchsorted(points_km, km, side="right") - 1, 0, points_km.size - 2)
    share = np.clip((km - points_km[before]) / (points_km[before + 1] - points_km[before]), 0.0, 1.0)
    places = np.arange(km.size)
    near, far = value[before, :, places].T, value[before + 1, :, places].T
    # At a point itself the other point has no say, even where its irradiance is nan.
    mixed = np.where(share == 0.0, near, np.where(share == 1.0, far, near * (1.0 - share) + far * share))
    return np.asarray(mixed)


def uncovered_h(weather: HourlyWeather, *, start_at_unix_s: float, finish_at_unix_s: float) -> float:
    """
    Time of a stage that no forecast hour reaches.

    Parameters
    ----------
    weather : HourlyWeather
        The forecast table.
    start_at_unix_s, finish_at_unix_s : float
        First and last instant of the stage [unix s].

    Returns
    -------
    float
        The longer of the gaps before the first and after the last hour, zero when covered [h].

    References
    ----------
    .. [1] Source key ``own_defaults``.
    """
    early_s = float(weather.at_unix_s.min()) - start_at_unix_s
    late_s = finish_at_unix_s - float(weather.at_unix_s.max())
    return max(early_s, late_s, 0.0) / 3600.0
