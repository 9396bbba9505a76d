"""The weather that was forecast, and the weather that came."""

import math
import random
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from seed_demo.courses import profile
from seed_demo.race import TIME_ZONE, StageCard

Issue = Literal["early", "eve", "truth"]
WARMEST_H = 15.5
SWING_C = 11.0
LAPSE_C_PER_M = 0.0065
ERROR_SD = {"early": 2.2, "eve": 1.0, "truth": 0.0}
"""Spread [C] of the air temperature's error by when the forecast was made."""
HOURS_BEFORE, HOURS_AFTER = 2, 8
COLUMNS = "time,point,km,elev_m,temp_c,rh_pct,wind_ms,wind_from_deg,cloud_pct"


@dataclass(frozen=True)
class WeatherHour:
    """One hour at one point of the course."""

    at: datetime
    point: str
    km: float
    elevation_m: float
    air_temperature_c: float
    relative_humidity_frac: float
    wind_m_per_s: float
    wind_from_deg: float
    cloud_frac: float


def _saturation_kpa(temperature_c: float) -> float:
    return 0.6112 * math.exp(17.62 * temperature_c / (243.12 + temperature_c))


def _day(stage: StageCard, issue: Issue) -> dict[str, float]:
    """Draw the day's truth, then the error of the forecast that was issued; both are the same each time."""
    truth = random.Random(f"sky-{stage.number}")
    error = random.Random(f"forecast-{stage.number}-{issue}")
    sd = ERROR_SD[issue]
    cloud = stage.cloud_frac + truth.uniform(-0.1, 0.1) + error.gauss(0, 0.08 * sd)
    return {
        "top_c": stage.max_temperature_c + truth.uniform(-1.0, 1.0) + error.gauss(0, sd),
        "dew_c": stage.dew_point_c + truth.uniform(-1.0, 1.0) + error.gauss(0, 0.8 * sd),
        "wind": max(0.3, truth.uniform(1.0, 5.0) * math.exp(error.gauss(0, 0.12 * sd))),
        "from_deg": (truth.uniform(0, 360) + error.gauss(0, 15 * sd)) % 360,
        "cloud": min(1.0, max(0.0, cloud)),
    }


def weather_hours(stage: StageCard, issue: Issue) -> list[WeatherHour]:
    """List the hours around the stage at its start and its finish."""
    day = _day(stage, issue)
    start_at = datetime.fromtimestamp(stage.start_at_ms / 1000, UTC).astimezone(ZoneInfo(TIME_ZONE))
    first = start_at.replace(minute=0) - timedelta(hours=HOURS_BEFORE)
    ground = profile(stage)
    made = []
    for point, (km, elevation_m) in (("start", ground[0]), ("finish", ground[-1])):
        above_m = elevation_m - stage.valley_m
        for hour in range(HOURS_BEFORE + HOURS_AFTER + 1):
            at = first + timedelta(hours=hour)
            phase = math.cos(math.tau * (at.hour - WARMEST_H) / 24.0)
            temperature_c = day["top_c"] - SWING_C * (1 - phase) / 2 - LAPSE_C_PER_M * above_m
            dew_c = min(day["dew_c"] - 0.0019 * above_m, temperature_c - 0.2)
            made.append(WeatherHour(
                at=at, point=point, km=km, elevation_m=elevation_m, air_temperature_c=temperature_c,
                relative_humidity_frac=min(1.0, max(0.05, _saturation_kpa(dew_c) / _saturation_kpa(temperature_c))),
                wind_m_per_s=day["wind"], wind_from_deg=day["from_deg"], cloud_frac=day["cloud"],
            ))
    return made


def forecast_csv(stage: StageCard, issue: Issue) -> str:
    """Return the forecast as the table a team would load, each time with its offset."""
    rows = [
        f"{hour.at.isoformat()},{hour.point},{hour.km:.1f},{hour.elevation_m:.0f},{hour.air_temperature_c:.1f},"
        f"{100 * hour.relative_humidity_frac:.0f},{hour.wind_m_per_s:.1f},{hour.wind_from_deg:.0f},"
        f"{100 * hour.cloud_frac:.0f}"
        for hour in weather_hours(stage, issue)
    ]
    return "\n".join([COLUMNS, *rows]) + "\n"
