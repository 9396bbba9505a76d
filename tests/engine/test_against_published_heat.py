"""ISO 7933, the models kept for comparison and measured WBGT, row by row; one test a row."""

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.loss import comparison_models as models
from brinebook.engine.loss.clothed_exchange import air_layer_correction_frac
from brinebook.engine.loss.heat_balance import saturation_pressure_kpa
from brinebook.engine.loss.predicted_heat_strain import (
    HeatExposure,
    predicted_heat_strain_iso7933_2004,
    predicted_heat_strain_iso7933_2023,
)
from brinebook.engine.loss.solar_gain import solar_gain_ashrae55
from brinebook.engine.loss.wbgt import wbgt_liljegren2008_c, wbgt_measured_shade_c, wbgt_measured_sun_c
from lwbgt import Input, calculate

TABLES = Path(__file__).parent / "published"
BODY_SURFACE_M2 = 0.202 * 75.0**0.425 * 1.8**0.725
MET_W_PER_M2 = 58.15


def _rows(*names):
    for name in names:
        with (TABLES / f"{name}.csv").open(encoding="utf-8") as stream:
            for row in csv.DictReader(stream):
                yield pytest.param(row, id=f"{name}:{row['id']}")


def _exposure(**case):
    vapour_kpa = case.get("pa", float(saturation_pressure_kpa(case["ta"])) * case.get("rh_pct", 0.0) / 100.0)
    rate = case.get("rate", case.get("rate_w", 0.0) / BODY_SURFACE_M2 + case.get("met", 0.0) * MET_W_PER_M2)
    return HeatExposure(
        air_temperature_c=case["ta"], radiant_temperature_c=case["tr"], vapour_pressure_kpa=vapour_kpa,
        air_speed_m_per_s=case["speed"], metabolic_rate_w_per_m2=rate, clothing_clo=case["clo"],
        posture=case.get("posture", "standing"), is_acclimatised=case.get("is_acclimatised", True),
        walk_m_per_s=case.get("walk", 0.0), wind_angle_deg=case.get("angle", 0.0),
        reflective_area_frac=case.get("covered", 0.54),
        reflective_emissivity_frac=1.0 - case["reflected"] if "reflected" in case else None,
    )


def _strain_2004(**case):
    strain = predicted_heat_strain_iso7933_2004(_exposure(**case))
    return [strain.rectal_c, strain.water_loss_g, strain.rectal_limit_min, strain.mean_loss_limit_min,
            strain.cautious_loss_limit_min]


def _strain_2023(**case):
    strain = predicted_heat_strain_iso7933_2023(_exposure(**case))
    return [strain.core_c, strain.water_loss_g, strain.cautious_loss_limit_min, strain.rectal_limit_min]


def _refused_2004(quantity, **case):
    with pytest.raises(UnphysicalInput) as refused:
        predicted_heat_strain_iso7933_2004(_exposure(**case))
    return [refused.value.name == quantity]


def _shapiro_family(required, capacity):
    return [
        model(required, max_evaporation_w_per_m2=capacity)
        for model in (models.sweat_rate_shapiro1982_g_per_m2_h, models.sweat_rate_gonzalez2009_corrected_g_per_m2_h,
                      models.sweat_rate_gonzalez2009_g_per_m2_h, models.sweat_rate_gonzalez2012_cool_g_per_m2_h)
    ]


def _solar_gain(**case):
    gain = solar_gain_ashrae55(
        case["elevation"], sun_angle_deg=case["angle"], direct_normal_w_per_m2=case["beam"],
        transmittance_frac=case["glass"], sky_view_frac=case["sky"], exposed_frac=case["exposed"],
        absorptivity_frac=case["absorbed"],
    )
    return [gain.effective_field_w_per_m2, gain.radiant_rise_c]


def _wbgt_outdoor(**case):
    """Ours, ours again to be held against the other library, and that library's WBGT and globe."""
    ours = wbgt_liljegren2008_c(
        case["ta_c"], relative_humidity_frac=case["rh_pct"] / 100.0, wind_m_per_s=case["wind_m_s"],
        pressure_pa=100.0 * case["pressure_hpa"], solar_w_per_m2=case["solar_w_m2"], direct_frac=case["direct"],
        sun_elevation_deg=np.degrees(np.arcsin(case["cosine"])),
    )
    theirs = calculate(Input(
        **{name: case[name] for name in ("year", "month", "day", "hour", "minute", "gmt_offset_hours",
                                         "averaging_minutes", "urban", "solar_w_m2", "pressure_hpa", "wind_height_m")},
        latitude_deg_north=case["lat"], longitude_deg_east=case["lon"], air_temperature_c=case["ta_c"],
        relative_humidity_percent=case["rh_pct"], wind_speed_m_s=case["wind_m_s"],
        vertical_temperature_difference_c=case["vertical_dt_c"],
    ))
    return [ours, ours, theirs.wbgt_c, theirs.globe_temperature_c]


FUNCTIONS = {
    "wbgt_outdoor": _wbgt_outdoor,
    "shapiro_family": _shapiro_family,
    "solar_gain": _solar_gain,
    "wbgt_sun": lambda wet, globe, air: [wbgt_measured_sun_c(wet, globe_c=globe, air_temperature_c=air)],
    "wbgt_shade": lambda wet, globe: [wbgt_measured_shade_c(wet, globe_c=globe)],
    "convection": lambda speed: [
        models.convection_by_author_w_per_m2_k(speed, author=author)
        for author in ("kerslake1972", "iso7933", "dedear1997")],
    "air_layer": lambda walk, speeds: air_layer_correction_frac(
        np.array(speeds, dtype=float), walk_m_per_s=np.array([walk])),
    "strain_2004": _strain_2004,
    "strain_2023": _strain_2023,
    "refused_2004": _refused_2004,
}


@pytest.mark.parametrize("row", list(_rows("heat_strain", "comparison_models")))
def test_the_engine_gives_the_published_number(row):
    found = FUNCTIONS[row["function"]](**json.loads(row["inputs"]))
    expected, tolerance = json.loads(row["expected"]), json.loads(row["tolerance"])

    assert len(expected) == len(tolerance) <= len(found)
    misses = [
        (float(value), wanted, within)
        for value, wanted, within in zip(found, expected, tolerance, strict=False)
        if not abs(float(value) - wanted) <= within
    ]
    assert misses == []


def test_every_annex_f_water_loss_is_met_to_the_gram():
    rows = [row.values[0] for row in _rows("heat_strain") if "Annex F" in row.values[0]["source"]]
    found = [float(_strain_2004(**json.loads(row["inputs"]))[1]) for row in rows]

    assert len(rows) == 10
    assert found == pytest.approx([json.loads(row["expected"])[1] for row in rows], abs=1.0)
