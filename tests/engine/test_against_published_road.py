"""The road, the air and the sun agree with published numbers, row by row."""

import csv
import json
from datetime import datetime
from pathlib import Path
from unittest.mock import patch

import numpy as np
import pytest
from brinebook.engine.constants import road
from brinebook.engine.plan.bottle_use import bottle_use
from brinebook.engine.stage import air, sun
from brinebook.engine.stage.course import synthetic_profile
from brinebook.engine.stage.effort import riding_work_kj, target_power_w
from brinebook.engine.stage.power_speed import (
    Conditions,
    Machine,
    headwind_m_per_s,
    kinetic_power_w,
    road_power,
    road_speed_m_per_s,
    unknown_wind_drag_factor,
)
from brinebook.engine.stage.segments import segment_stage
from brinebook.engine.stage.weather import HourlyWeather, weather_along
from brinebook.engine.units import KCAL_PER_KJ

TABLE = Path(__file__).parent / "published" / "stage_weather.csv"
START_S = 1_784_030_400.0


def _arrays(inputs):
    return {
        name: np.asarray(value, dtype=float) if isinstance(value, (list, int, float)) else value
        for name, value in inputs.items()
    }


def _machine(given):
    names = ("mass_kg", "drag_area_m2", "rolling_resistance_frac", "drivetrain_efficiency_frac")
    return Machine(**{name: given[name] for name in names})


def _road_power(given):
    given = _arrays(given)
    machine = _machine(given)
    headwind = headwind_m_per_s(
        given["wind_m_per_s"], wind_from_deg=given["wind_from_deg"], bearing_deg=given["bearing_deg"]
    )
    conditions = Conditions(
        gradient_frac=given["gradient_frac"],
        air_density_kg_per_m3=given["air_density_kg_per_m3"],
        headwind_m_per_s=headwind,
    )
    kinetic_w = kinetic_power_w(
        machine,
        speed_before_m_per_s=given["speed_before_m_per_s"],
        speed_after_m_per_s=given["speed_after_m_per_s"],
        duration_s=given["duration_s"],
    )
    return vars(road_power(given["speed_m_per_s"], machine=machine, conditions=conditions, kinetic_w=kinetic_w))


def _drafting(given):
    given = _arrays(given)
    conditions = Conditions(
        gradient_frac=given["gradient_frac"], air_density_kg_per_m3=given["air_density_kg_per_m3"]
    )
    return vars(road_power(given["speed_m_per_s"], machine=_machine(given), conditions=conditions))


def _climb_time(given):
    heights_m = np.linspace(given["foot_m"], given["foot_m"] + given["gain_m"], 400)
    density = _dry_density({"elevation_m": heights_m})["air_density_kg_per_m3"]
    machine = Machine(mass_kg=given["rider_kg"] + given["bike_kg"], drag_area_m2=given["drag_area_m2"])
    conditions = Conditions(gradient_frac=given["gain_m"] / given["length_m"], air_density_kg_per_m3=density)
    minutes = []
    for power_w_per_kg in given["power_w_per_kg"]:
        power_w = np.full(heights_m.size, power_w_per_kg * given["rider_kg"])
        speed = road_speed_m_per_s(power_w, machine=machine, conditions=conditions)
        minutes.append(given["length_m"] * np.mean(1.0 / speed) / 60.0)
    return {"duration_min": minutes}


def _dry_density(given):
    height_m = np.asarray(given["elevation_m"], dtype=float)
    density = air.air_density_kg_per_m3(
        15.0 - road.LAPSE_K_PER_KM * height_m / 1000.0,
        vapour_pressure_pa=0.0,
        pressure_pa=air.standard_pressure_pa(height_m),
    )
    return {"air_density_kg_per_m3": density}


def _moist_density(given):
    given = _arrays(given)
    vapour_pa = air.vapour_pressure_pa(
        given["air_temperature_c"], relative_humidity_frac=given["relative_humidity_frac"]
    )
    density = air.air_density_kg_per_m3(
        given["air_temperature_c"], vapour_pressure_pa=vapour_pa, pressure_pa=given["pressure_pa"]
    )
    return {"air_density_kg_per_m3": density}


def _dew_point(given):
    given = _arrays(given)
    return {
        "dew_point_c": air.dew_point_c(
            air.vapour_pressure_pa(given["air_temperature_c"], relative_humidity_frac=given["relative_humidity_frac"])
        )
    }


def _sun_position(given):
    at = datetime.fromisoformat(given["at"]).timestamp()
    return vars(sun.sun_position(at, latitude_deg=given["latitude_deg"], longitude_deg=given["longitude_deg"]))


def _clear_sky_at(given):
    return {"solar_w_per_m2": sun.clear_sky_w_per_m2(_sun_position(given)["apparent_elevation_deg"])}


def _stage_work(given):
    work_mj = [
        target_power_w(given["rider_kg"], stage_kind=kind, race_role=role)
        * length_m * 3.6 / road.TYPICAL_SPEED_KM_PER_H[kind] / 1e6
        for kind, role, length_m in zip(given["stage_kind"], given["race_role"], given["length_m"], strict=True)
    ]
    return {"work_mj": work_mj}


def _still_air(air_temperature_c, elevation_m):
    hours = np.arange(10)

    def same(value):
        return np.full(hours.size, float(value))

    return HourlyWeather(
        at_unix_s=START_S + 3600.0 * (hours - 1), km=same(0), elevation_m=same(elevation_m),
        air_temperature_c=same(air_temperature_c), relative_humidity_frac=same(0.4), wind_m_per_s=same(0),
        wind_from_deg=same(0), cloud_frac=same(0), solar_w_per_m2=same(np.nan),
    )


def _lifted(given):
    met = weather_along(
        _still_air(given["air_temperature_c"], given["from_m"]),
        at_unix_s=np.array([START_S]), km=np.array([0.0]), elevation_m=np.array([float(given["to_m"])]),
    )
    return {"air_temperature_c": met.air_temperature_c}


def _stage_speed(given):
    speeds = []
    for kind, role, length_m, gain_m in zip(
        given["stage_kind"], given["race_role"], given["length_m"], given["gain_m"], strict=True
    ):
        table = segment_stage(
            synthetic_profile(kind, length_m=length_m, gain_m=gain_m),
            stage_kind=kind, race_role=role, mass_kg=given["rider_kg"], start_at_unix_s=START_S,
            scheduled_duration_h=None, weather=_still_air(given["air_temperature_c"], 0),
        )
        speeds.append(table.end_km[-1] / table.elapsed_h[-1])
    return {"speed_km_per_h": speeds}


FUNCTIONS = {
    "road_power": _road_power,
    "drafting": _drafting,
    "climb_time": _climb_time,
    "dry_density": _dry_density,
    "moist_density": _moist_density,
    "dew_point_c": _dew_point,
    "sun_position": _sun_position,
    "clear_sky_at": _clear_sky_at,
    "stage_work_mj": _stage_work,
    "lifted_air_c": _lifted,
    "stage_speed_km_per_h": _stage_speed,
    "unknown_wind_drag_factor": lambda given: {"factor": unknown_wind_drag_factor(**_arrays(given))},
}


def _plain(function, key):
    """Call an engine function whose first parameter may be given by name, and name its answer."""
    return lambda given: {key: function(**_arrays(given))}


def _time_trial_speed(given):
    """Ride the stage as ``_stage_speed`` does, with the drag area that its number was made with."""
    with patch.object(road, "DRAG_AREA_TIME_TRIAL_M2", given["drag_area_m2"]):
        return _stage_speed(given)


def _work_of_energy(given):
    kcal = 1000.0 * KCAL_PER_KJ * np.array(given["energy_mj"])
    return {"work_mj": riding_work_kj(kcal, gross_efficiency_frac=given["efficiency"]) / 1000.0}


def _time_of_energy(given):
    work_kj = riding_work_kj(given["energy_kcal"], gross_efficiency_frac=given["efficiency"])
    return {"duration_h": work_kj * 1000.0 / given["power_w"] / 3600.0}


def _bottles_used(given):
    used = bottle_use(given.pop("n_bottles"), **given)
    return {"per_team_day": used.per_team_day_n, "per_rider_day": used.per_rider_day_n, "volume_l": used.volume_l}


FUNCTIONS |= {
    "work_of_energy": _work_of_energy,
    "time_trial_speed_km_per_h": _time_trial_speed,
    "time_of_energy": _time_of_energy,
    "bottles_used": _bottles_used,
    "cloud_factor_kasten1980": _plain(sun.cloud_factor_kasten1980, "factor"),
    "standard_pressure_pa": _plain(air.standard_pressure_pa, "pressure_pa"),
    "sea_level_pressure_pa": _plain(air.sea_level_pressure_pa, "pressure_pa"),
    "saturation_vapour_pressure_pa": _plain(air.saturation_vapour_pressure_pa, "vapour_pressure_pa"),
    "saturation_vapour_pressure_magnus_pa": _plain(air.saturation_vapour_pressure_magnus_pa, "vapour_pressure_pa"),
    "vapour_pressure_pa": _plain(air.vapour_pressure_pa, "vapour_pressure_pa"),
    "wet_bulb_c": _plain(air.wet_bulb_c, "wet_bulb_c"),
    "clear_sky_w_per_m2": _plain(sun.clear_sky_w_per_m2, "solar_w_per_m2"),
    "cloud_factor": _plain(sun.cloud_factor, "factor"),
    "wind_at_two_metres_m_per_s": _plain(air.wind_at_two_metres_m_per_s, "wind_m_per_s"),
}


def _rows():
    with TABLE.open(encoding="utf-8") as stream:
        return list(csv.DictReader(stream))


def _tolerances(text):
    return {"rel": float(text[:-1]) / 100.0} if text.endswith("%") else {"abs": float(text), "rel": 0.0}


@pytest.mark.parametrize("row", _rows(), ids=lambda row: f"stage_weather:{row['id']}")
def test_the_road_agrees_with_the_published_row(row):
    expected = json.loads(row["expected"])

    found = FUNCTIONS[row["function"]](json.loads(row["inputs"]))

    for name, value in expected.items():
        assert np.asarray(found[name]) == pytest.approx(np.asarray(value), **_tolerances(row["tolerance"])), name
