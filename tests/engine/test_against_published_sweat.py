"""Every SN-, SL- and FB- case that the sweat functions cover, one test a row."""

import csv
import json
import math
from pathlib import Path

import pytest
from brinebook.engine import units
from brinebook.engine.constants.sweat import CLASS_SHARES_FRAC, SITE_EQUATIONS, ChainParameters
from brinebook.engine.loss.heat_balance import (
    body_surface_dubois1916_m2,
    heat_balance,
    mean_radiant_temperature_c,
    saturation_pressure_kpa,
)
from brinebook.engine.loss.wbgt import wbgt_simple_c
from brinebook.engine.measure import mass_balance, sample_chemistry
from brinebook.engine.measure.modifiers import intensity_elasticity
from brinebook.engine.measure.sodium_estimate import SodiumTest, reference_change_linear_frac, sodium_estimate
from brinebook.engine.measure.sweat_sample import regional_to_whole_body_mmol_per_l
from brinebook.engine.plan.balance import replacement_threshold_frac
from brinebook.engine.plan.drinks import blend_frac
from brinebook.engine.settle.learn import FactorState, personal_factor, update_factor
from brinebook.engine.settle.monitoring import morning_check_count
from brinebook.engine.settle.sodium_loss import stage_sodium_loss

TABLES = Path(__file__).parent / "published"
MMHG_KPA = units.KPA_PER_MMHG


def _rows():
    for name in ("sweat_sodium", "sweat_loss"):
        with (TABLES / f"{name}.csv").open(encoding="utf-8") as stream:
            for row in csv.DictReader(stream):
                yield pytest.param(row, id=f"{name}:{row['id']}")


def _units():
    one_gram_mg = 1000.0
    salt_mg, citrate_mg = units.salt_sodium_mg(1.0), units.citrate_sodium_mg(1.0)
    return [units.sodium_mmol(one_gram_mg), units.salt_g(one_gram_mg), units.sodium_mmol(salt_mg), salt_mg,
            units.sodium_mmol(citrate_mg), citrate_mg]


def _respiratory_ml_per_h(metabolic_power_w, vapour_mmhg):
    water_kg = mass_balance.respiratory_water_kg(
        mass_balance.oxygen_uptake_l_per_min(metabolic_power_w), vapour_pressure_kpa=vapour_mmhg * MMHG_KPA,
        duration_h=1.0,
    )
    return [water_kg * 1000.0]


def _mass_balance():
    respiratory_kg = mass_balance.respiratory_water_kg(3.2, vapour_pressure_kpa=11.88 * MMHG_KPA, duration_h=4.5)
    gas_kg = mass_balance.gas_exchange_kg(3.2, duration_h=4.5)
    ride = mass_balance.weighed_ride(
        mass_before_kg=68.40, mass_after_kg=66.10, fluid_drunk_l=4.00, food_kg=0.35, urine_l=0.30, duration_h=4.5,
        power_w=3.2 * 20900.0 / 60.0 * 0.22, gross_efficiency_frac=0.22, vapour_pressure_kpa=11.88 * MMHG_KPA,
    )
    uncorrected = (ride.sweat_l + ride.respiratory_kg + ride.gas_kg) / 4.5
    return [respiratory_kg, gas_kg, ride.sweat_l, ride.sweat_rate_l_per_h, uncorrected]


def _sodium_estimate(tests, at_day):
    found = sodium_estimate([SodiumTest(float(day), tuple(arms)) for day, arms in tests], at_day=at_day)
    return [found.log_mean, found.log_sd, found.forearm_mean_mmol_per_l, found.mean_mmol_per_l, found.sd_mmol_per_l,
            found.low_mmol_per_l, found.high_mmol_per_l]


def _weights(ages_days):
    return [sodium_estimate([SodiumTest(0.0, (58.0, 64.0))], at_day=age).weights_frac[0] for age in ages_days]


def _sodium_loss(rate, cv, hours, sodium, sodium_sd):
    loss = stage_sodium_loss(
        rate * hours, sweat_sd_l=cv * rate * hours, sodium_mmol_per_l=sodium, sodium_sd_mmol_per_l=sodium_sd
    )
    return [loss.mean_mmol, units.sodium_mg(loss.mean_mmol) / 1000.0, loss.spread_frac, loss.low_mmol, loss.high_mmol]


def _bright_emax(air_speed):
    heat = heat_balance(
        247.0, mass_kg=75.0, height_m=1.80, air_temperature_c=32.0, relative_humidity_frac=0.40,
        air_speed_m_per_s=air_speed, radiant_temperature_c=32.0, parameters=ChainParameters(permeability_frac=0.38),
    )
    return [heat.max_evaporation_w_per_m2]


def _pinned_rider(power_w, ta, rh_frac, air_speed, tmrt, *, mass_kg=68.0, height_m=1.78):
    return heat_balance(
        power_w, mass_kg=mass_kg, height_m=height_m, air_temperature_c=ta, relative_humidity_frac=rh_frac,
        air_speed_m_per_s=air_speed, radiant_temperature_c=tmrt, gross_efficiency_frac=0.23, metabolic_floor_w=0.0,
    )


def _chain(**case):
    assert case["storage_w_m2"] == 0
    heat = _pinned_rider(
        case["power_w"], case["ta_c"], case["rh_pct"] / 100.0, case["air_speed_m_s"], case["tmrt_c"],
        mass_kg=case["mass_kg"], height_m=case["height_m"],
    )
    return [heat.sweat_rate_l_per_h, heat.sweat_rate_g_per_m2_h, heat.required_evaporation_w_per_m2,
            heat.max_evaporation_w_per_m2, heat.wettedness_frac, heat.skin_temperature_c, heat.respiratory_l_per_h,
            heat.evaporative_efficiency_frac]


def _mean_radiant(ta, diffuse, direct, elevation, **sky):
    return [mean_radiant_temperature_c(
        ta, global_w_per_m2=sky["global"], diffuse_w_per_m2=diffuse, direct_normal_w_per_m2=direct,
        elevation_deg=elevation,
    )]


def _personal_factor(ratios):
    found = personal_factor(ratios)
    return [math.exp(found.state.log_mean), found.state.log_sd, found.predictive_log_sd]


def _learn(model_log_sd):
    update = update_factor(
        FactorState(0.0, 0.20), model_l=3.30, observed_l=3.95, observed_sd_l=0.218, model_log_sd=model_log_sd,
        n_days_since=0.0,
    )
    return [update.z, math.exp(update.state.log_mean), update.state.log_sd]


def _stage_loss(before=70.0, after=68.4, drunk=3.0, food=0.35, urine=0.2, energy_kcal=4000.0):
    return mass_balance.stage_sweat_loss(
        mass_before_kg=before, mass_after_kg=after, drunk_l=drunk, food_kg=food, urine_l=urine,
        energy_kcal=energy_kcal, drunk_sd_l=0.2,
    )[:1]


def _metabolic_heat(power_w, efficiency):
    heat = heat_balance(
        power_w, mass_kg=68.0, height_m=1.78, air_temperature_c=20.0, relative_humidity_frac=0.5,
        air_speed_m_per_s=10.0, radiant_temperature_c=20.0, gross_efficiency_frac=efficiency,
    )
    return [heat.metabolic_power_w, heat.heat_production_w_per_m2 * heat.body_surface_m2]


FUNCTIONS = {
    "metabolic_heat": _metabolic_heat,
    "whole_body": lambda regional, site: [regional_to_whole_body_mmol_per_l(regional, site=site)],
    "whole_body_sd": lambda regional_sd, site: [SITE_EQUATIONS[site].slope_frac * regional_sd],
    "sodium_rate": lambda sodium_mmol_per_h, sweat_l_per_h: [
        units.sodium_mg(sodium_mmol_per_h), sodium_mmol_per_h / sweat_l_per_h],
    "ratio_of_means": lambda sodium_mmol_per_h, sweat_l_per_h: [
        sample_chemistry.mean_concentration_mmol_per_l(loss, sweat_rate_l_per_h=rate)
        for loss, rate in zip(sodium_mmol_per_h, sweat_l_per_h, strict=True)],
    "class_counts": lambda n: [n * share for share in CLASS_SHARES_FRAC],
    "reference_change_percent": lambda analytical_percent, within_percent: [
        100.0 * reference_change_linear_frac(analytical_percent / 100.0, within_frac=within_percent / 100.0)],
    "elasticity": lambda pairs: [
        intensity_elasticity((low, high), sweat_rates_l_per_h=(slow, fast)) for low, high, slow, fast in pairs],
    "scale_rate": lambda scale_sd_kg, minutes: [
        mass_balance.scale_rate_sd_l_per_h(scale_sd_kg, duration_h=minute / 60.0) for minute in minutes],
    "free_water": lambda sodium_mg_per_l: [
        replacement_threshold_frac(units.sodium_mmol(float(sodium_mg_per_l)), potassium_mmol_per_l=5.0)],
    "blend": lambda base, strong, target: [blend_frac(base, strong_mg_per_l=strong, target_mg_per_l=target)],
    "salt": lambda sodium, chloride: [sample_chemistry.sodium_chloride_g_per_l(sodium, chloride_mmol_per_l=chloride)],
    "conductivity": lambda chloride: [sample_chemistry.conductivity_equivalent_mmol_per_l(x) for x in chloride],
    "respiratory_ml_per_h": _respiratory_ml_per_h,
    "minimum_volume": lambda area_cm2, collected_min: [
        sample_chemistry.minimum_volume_ul(area_cm2, collected_min=collected_min)],
    "evaporation_percent": lambda evaporated_frac: [
        100.0 * sample_chemistry.evaporation_error_frac(x) for x in evaporated_frac],
    "skin_salt": lambda residue_mg, volume_ul: [
        sample_chemistry.skin_salt_error_mmol_per_l(residue_mg, volume_ul=x) for x in volume_ul],
    "forearm_rate": lambda rate: [sample_chemistry.forearm_sodium_buono2008_mmol_per_l(x) for x in rate],
    "heat_left": lambda days: [sample_chemistry.heat_adaptation_left_frac(days)],
    "electrode": lambda temperature_c: [sample_chemistry.electrode_slope_mv_per_decade(x) for x in temperature_c],
    "units": _units,
    "lognormal": lambda mean, sd: sample_chemistry.lognormal_parameters(mean, sd=sd),
    "mass_balance": _mass_balance,
    "sodium_estimate": _sodium_estimate,
    "weights": _weights,
    "sodium_loss": _sodium_loss,
    "mmol_per_l": lambda mg_per_l: [units.sodium_mmol(float(x)) for x in mg_per_l],
    "bright_emax": _bright_emax,
    "body_surface": lambda mass_kg, height_m: [body_surface_dubois1916_m2(mass_kg, height_m=height_m)],
    "skin_temperature": lambda ta: [_pinned_rider(230.0, x, 0.5, 11.11, x).skin_temperature_c for x in ta],
    "mean_radiant": _mean_radiant,
    "chain": _chain,
    "wbgt_simple": lambda ta, rh_pct: [
        wbgt_simple_c(ta, vapour_pressure_kpa=saturation_pressure_kpa(ta) * rh_pct / 100.0)],
    "personal_factor": _personal_factor,
    "stage_loss": _stage_loss,
    "non_sweat": lambda energy_kcal: [_stage_loss(energy_kcal=0.0)[0] - _stage_loss(energy_kcal=energy_kcal)[0]],
    "learn": _learn,
    "morning": lambda mass, colour, thirst: [morning_check_count(mass, colour, thirst).n_positive],
}


@pytest.mark.parametrize("row", list(_rows()))
def test_the_engine_gives_the_published_number(row):
    found = FUNCTIONS[row["function"]](**json.loads(row["inputs"]))

    misses = [
        (float(value), expected, tolerance)
        for value, expected, tolerance in zip(
            found, json.loads(row["expected"]), json.loads(row["tolerance"]), strict=True
        )
        if not abs(float(value) - expected) <= tolerance
    ]
    assert misses == []
