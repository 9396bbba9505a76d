"""Made-up forecasts and courses shared by the stage tests."""

import numpy as np
from brinebook.engine.stage.course import resample_course
from brinebook.engine.stage.weather import HourlyWeather

NOON_S = 1_784_030_400.0  # 2026-07-14 12:00 UTC


def hourly(*, air_c=28.0, humidity_frac=0.4, wind_m_per_s=0.0, cloud_frac=0.0, solar_w_per_m2=np.nan, km=0.0):
    """Ten equal hours at one point, from an hour before noon."""
    hours = np.arange(10)

    def same(value):
        return np.full(hours.size, float(value))

    return HourlyWeather(
        at_unix_s=NOON_S + 3600.0 * (hours - 1), km=same(km), elevation_m=same(0), air_temperature_c=same(air_c),
        relative_humidity_frac=same(humidity_frac), wind_m_per_s=same(wind_m_per_s), wind_from_deg=same(0),
        cloud_frac=same(cloud_frac), solar_w_per_m2=same(solar_w_per_m2),
    )


def joined(*tables):
    """Put the rows of several forecasts in one table."""
    return HourlyWeather(**{
        name: np.concatenate([getattr(table, name) for table in tables]) for name in vars(tables[0])
    })


def straight(length_m, *, gradient_frac=0.0, foot_m=0.0):
    """Go straight north at one gradient."""
    along_m = np.linspace(0.0, length_m, 200)
    return resample_course(
        along_m, foot_m + gradient_frac * along_m, 44.0 + along_m / 111_195.0, np.full(along_m.size, 5.0)
    )
