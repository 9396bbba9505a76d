"""Nan never comes out: each number of each small function is made nan and infinite in turn, and must be refused."""

import dataclasses
import math

import numpy as np
import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.loss import comparison_models, heat_balance, wbgt
from brinebook.engine.measure import (
    calibration,
    corrections,
    ion_checks,
    mass_balance,
    modifiers,
    sample_chemistry,
    sodium_estimate,
    sweat_sample,
)
from brinebook.engine.plan import balance, bottle_use, drinks, free_water, race_rules, rehydration, running_table
from brinebook.engine.settle import audit, learn, monitoring, sodium_loss
from brinebook.engine.stage import air, course, effort, power_speed, sun

RULES = race_rules.FeedRules(
    id="x", opens_km=30.0, closes_to_go_km=20.0, ban_before_m=500.0, ban_after_m=50.0, roadside="anywhere")
SKY = {"relative_humidity_frac": 0.4, "wind_m_per_s": 3.0, "pressure_pa": 101_325.0, "solar_w_per_m2": 700.0,
       "direct_frac": 0.7, "sun_elevation_deg": 50.0}
CALLS = {
    balance.watson_tbw_l: ((68.0,), {"height_m": 1.8, "age_years": 25.0, "sex": "m"}),
    balance.plasma_sodium_mmol_per_l: (
        (42.0,), {"water_gain_l": -1.0, "cation_gain_mmol": -48.0, "start_mmol_per_l": 140.0}),
    balance.isonatric_cations_mmol_per_l: ((140.0,), {}),
    balance.replacement_threshold_frac: ((43.5,), {"potassium_mmol_per_l": 5.0, "plasma_mmol_per_l": 140.0}),
    balance.sodium_share_frac: (
        (0.8,), {"sodium_mmol_per_l": 43.5, "potassium_mmol_per_l": 5.0, "plasma_mmol_per_l": 140.0}),
    free_water.classic_free_water_l: ((1.0,), {"cations_mmol_per_l": 48.0, "plasma_mmol_per_l": 140.0}),
    free_water.osmolar_free_water_l: ((1.0,), {"urine_mosm_per_l": 50.0, "plasma_mosm_per_l": 300.0}),
    free_water.plasma_osmolality_mosm_per_kg: (
        (140.0,), {"glucose_mg_per_dl_n": 90.0, "urea_nitrogen_mg_per_dl_n": 14.0}),
    free_water.plasma_change_adrogue2000_mmol_per_l: (
        (34.0,), {"plasma_mmol_per_l": 168.0, "infusate_mmol_per_l": 0.0, "volume_l": 1.0}),
    balance.targets: ((4.0,), {"mass_kg": 68.0, "sodium_mmol_per_l": 40.0, "plasma_mmol_per_l": 140.0}),
    drinks.water_fraction_frac: ((80.0,), {}),
    drinks.osmolality_mosm_per_l: ((), {
        "monosaccharide_g_per_l": 30.0, "sucrose_g_per_l": 5.0, "maltodextrin_g_per_l": 30.0,
        "dextrose_equivalent_n": 10.0, "chloride_mmol_per_l": 20.0, "citrate_sodium_mmol_per_l": 10.0}),
    drinks.blend_frac: ((460.0,), {"strong_mg_per_l": 1500.0, "target_mg_per_l": 900.0}),
    drinks.water_carried_g: ((10.0,), {}),
    bottle_use.bottle_use: ((66_000.0,), {"n_teams": 22, "n_days": 21, "n_riders": 8, "bottle_l": 0.55}),
    race_rules.feed_windows_km: ((RULES,), {"length_km": 180.0}),
    rehydration.urine_fraction_frac: ((1.5,), {"sodium_mmol_per_l": 40.0}),
    rehydration.balancing_ratio_frac: ((40.0,), {}),
    rehydration.rehydration_l: ((1.5,), {"sodium_mmol_per_l": 40.0, "hours_to_start_h": 10.0}),
    rehydration.evening_drink: ((1.5,), {"sodium_owed_mg": 800.0, "hours_to_start_h": 16.0, "hours_to_bed_h": 5.0}),
    rehydration.pre_stage_drink_l: ((0.3,), {"mass_kg": 68.0}),
    running_table.running_sweat_l_per_h: ((70.0,), {"speed_km_per_h": 10.0, "is_warm": True}),
    mass_balance.respiratory_water_kg: ((3.2,), {"vapour_pressure_kpa": 1.6, "duration_h": 4.5}),
    mass_balance.gas_exchange_kg: ((3.2,), {"duration_h": 4.5, "respiratory_exchange_frac": 0.9}),
    mass_balance.oxygen_uptake_l_per_min: ((1000.0,), {}),
    mass_balance.scale_rate_sd_l_per_h: ((0.05,), {"duration_h": 4.5}),
    mass_balance.stage_sweat_loss: ((), {
        "mass_before_kg": 70.0, "mass_after_kg": 68.4, "drunk_l": 3.0, "food_kg": 0.35, "urine_l": 0.2,
        "energy_kcal": 4000.0, "drunk_sd_l": 0.2, "kit_sweat_kg": 0.1, "faeces_kg": 0.0}),
    sample_chemistry.minimum_volume_ul: ((5.0,), {"collected_min": 10.0}),
    sample_chemistry.sodium_chloride_g_per_l: ((43.0,), {"chloride_mmol_per_l": 32.0}),
    sample_chemistry.mean_concentration_mmol_per_l: ((51.0,), {"sweat_rate_l_per_h": 1.28}),
    sample_chemistry.conductivity_equivalent_mmol_per_l: ((40.0,), {}),
    sample_chemistry.evaporation_error_frac: ((0.1,), {}),
    sample_chemistry.skin_salt_error_mmol_per_l: ((0.01,), {"volume_ul": 100.0}),
    sample_chemistry.forearm_sodium_buono2008_mmol_per_l: ((0.5,), {}),
    sample_chemistry.heat_adaptation_left_frac: ((28.0,), {}),
    sample_chemistry.electrode_slope_mv_per_decade: ((25.0,), {}),
    sample_chemistry.lognormal_parameters: ((43.6,), {"sd": 18.2}),
    sweat_sample.regional_to_whole_body_mmol_per_l: ((43.6,), {"site": "dorsal_forearm"}),
    sweat_sample.pair_quality: ((50.0, 52.0), {}),
    corrections.corrected_sodium: ((50.0,), {"volume_ul": 90.0, "diluent_ul": 10.0, "evaporated_frac": 0.1}),
    calibration.drift_corrected_mmol_per_l: ((54.0,), {"drift_frac": 0.08, "place_frac": 0.5}),
    ion_checks.conductivity_reading: ((70.0,), {}),
    ion_checks.sodium_class: ((40.0,), {}),
    modifiers.diet_shift_log: ((1.5,), {}),
    modifiers.intensity_transfer: ((), {"test_rate_l_per_h": 1.0, "race_rate_l_per_h": 1.3}),
    sodium_estimate.reference_change_frac: ((0.13,), {}),
    sodium_estimate.reference_change_linear_frac: ((0.06,), {"within_frac": 0.175}),
    heat_balance.body_surface_dubois1916_m2: ((68.0,), {"height_m": 1.78}),
    heat_balance.saturation_pressure_kpa: ((25.0,), {}),
    heat_balance.mean_radiant_temperature_c: ((25.0,), {
        "global_w_per_m2": 775.0, "diffuse_w_per_m2": 120.0, "direct_normal_w_per_m2": 800.0, "elevation_deg": 55.0}),
    heat_balance.heat_balance: ((230.0,), {
        "mass_kg": 68.0, "height_m": 1.78, "air_temperature_c": 25.0, "relative_humidity_frac": 0.5,
        "air_speed_m_per_s": 11.0, "radiant_temperature_c": 25.0, "gross_efficiency_frac": 0.22}),
    wbgt.wbgt_liljegren2008_c: ((28.0,), SKY),
    wbgt.wbgt_simple_c: ((28.0,), {"vapour_pressure_kpa": 1.7}),
    wbgt.wbgt_measured_shade_c: ((20.0,), {"globe_c": 35.0}),
    comparison_models.sweat_rate_gonzalez2009_g_per_m2_h: ((200.0,), {"max_evaporation_w_per_m2": 300.0}),
    learn.update_factor: ((learn.FactorState(0.0, 0.25),), {
        "model_l": 3.3, "observed_l": 3.95, "observed_sd_l": 0.218, "model_log_sd": 0.1, "n_days_since": 1.0}),
    monitoring.mass_reading: ((-0.02,), {"cut_frac": -0.01}),
    monitoring.thirst_thompson1986_cm: ((290.0,), {}),
    monitoring.vasopressin_thompson1986_pmol_per_l: ((290.0,), {}),
    sodium_loss.stage_sodium_loss: ((5.0,), {
        "sweat_sd_l": 0.7, "sodium_mmol_per_l": 45.0, "sodium_sd_mmol_per_l": 8.0}),
    audit.forecast_rank_frac: (([3.0, 4.0],), {"settled_l": 3.5}),
    air.saturation_vapour_pressure_pa: ((25.0,), {}),
    air.vapour_pressure_pa: ((25.0,), {"relative_humidity_frac": 0.5}),
    air.dew_point_c: ((1500.0,), {}),
    air.wet_bulb_c: ((25.0,), {"relative_humidity_frac": 0.5, "pressure_pa": 101_325.0}),
    air.standard_pressure_pa: ((500.0,), {}),
    air.sea_level_pressure_pa: ((101_226.5,), {"elevation_m": 105.0, "air_temperature_c": 17.19}),
    air.air_density_kg_per_m3: ((25.0,), {"vapour_pressure_pa": 1500.0, "pressure_pa": 101_325.0}),
    air.wind_at_two_metres_m_per_s: ((3.2,), {"measured_at_m": 10.0}),
    effort.riding_energy_kcal: ((3600.0,), {"gross_efficiency_frac": 0.22}),
    effort.riding_work_kj: ((3911.0,), {"gross_efficiency_frac": 0.22}),
    effort.target_power_w: ((68.0,), {"stage_kind": "flat", "race_role": "leader"}),
    power_speed.headwind_m_per_s: ((3.0,), {"wind_from_deg": 310.0, "bearing_deg": 340.0}),
    power_speed.unknown_wind_drag_factor: ((8.9,), {"wind_m_per_s": 3.0}),
    sun.sun_position: ((1_784_030_400.0,), {"latitude_deg": 44.0, "longitude_deg": 5.0}),
    sun.clear_sky_w_per_m2: ((50.0,), {}),
    sun.clear_sky_gain: ((1000.0,), {}),
    sun.cloud_factor: ((0.5,), {}),
    sun.split_irradiance: ((700.0,), {"sun_elevation_deg": 50.0, "orbit_frac": 1.0}),
    course.haversine_m: ((44.0, 5.0), {"to_latitude_deg": 44.1, "to_longitude_deg": 5.1}),
}


def _numbers(value):
    if dataclasses.is_dataclass(value):
        value = [getattr(value, field.name) for field in dataclasses.fields(value)]
    if isinstance(value, (list, tuple)):
        return [number for part in value for number in _numbers(part)]
    if isinstance(value, (int, float, np.ndarray)) and not isinstance(value, bool):
        return np.ravel(np.asarray(value, dtype=np.float64)).tolist()
    return []


@pytest.mark.parametrize("call", list(CALLS), ids=lambda function: function.__name__)
def test_a_sound_call_gives_finite_numbers(call):
    given, named = CALLS[call]

    assert all(map(math.isfinite, _numbers(call(*given, **named))))


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize("call", list(CALLS), ids=lambda function: function.__name__)
def test_what_is_no_number_is_refused_by_name(call, bad):
    given, named = CALLS[call]
    passed = []
    for place, value in enumerate(given):
        if isinstance(value, float):
            spoilt = [*given[:place], bad, *given[place + 1:]]
            passed += _passed(call, spoilt, named, f"argument {place}")
    for name, value in named.items():
        if isinstance(value, float):
            passed += _passed(call, given, {**named, name: bad}, name)

    assert passed == []


def _passed(call, given, named, what):
    try:
        found = call(*given, **named)
    except UnphysicalInput:
        return []
    return [f"{what} gave {found}"]
