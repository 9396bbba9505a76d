"""The plan package against the check cases of fluid balance, one test per row."""

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from brinebook.engine.constants.balance import POTASSIUM_CHLORIDE_G_PER_MOL
from brinebook.engine.measure.mass_balance import stage_sweat_loss
from brinebook.engine.measure.sweat_sample import regional_to_whole_body_mmol_per_l
from brinebook.engine.plan import balance, drinks, free_water, rehydration
from brinebook.engine.plan.bottles import (
    BottlePlanInput,
    DrinkOption,
    FoodOption,
    PlanLimits,
    PlanWeights,
    plan_bottles,
)
from brinebook.engine.plan.recipe import batch
from brinebook.engine.plan.running_table import running_sweat_l_per_h
from brinebook.engine.settle import monitoring
from brinebook.engine.units import SODIUM_CHLORIDE_G_PER_MOL, citrate_sodium_mg, salt_sodium_mg, sodium_mg, sodium_mmol

TABLE = Path(__file__).parent / "published" / "fluid_balance.csv"
with TABLE.open(encoding="utf-8") as stream:
    ROWS = list(csv.DictReader(stream))


def _plasma_change(**at):
    return balance.plasma_sodium_mmol_per_l(**at) - 140.0


def _free_water_l(*, classic=0, **at):
    return free_water.classic_free_water_l(1.0, **at) if classic else balance.replacement_threshold_frac(**at)


def _urine_ml(*, loss_ml, intake_ratio_frac, sodium_mmol_per_l):
    share = rehydration.urine_fraction_frac(intake_ratio_frac, sodium_mmol_per_l=sodium_mmol_per_l)
    return share * intake_ratio_frac * loss_ml


def _long_run(*, mass_kg, speed_km_per_h, duration_h, drink_l_per_h, sodium_mmol_per_l, potassium_mmol_per_l):
    """1, 1 when the runner ends both dry by more than 2 % and below 135 mmol/L."""
    sweat_l = running_sweat_l_per_h(mass_kg, speed_km_per_h=speed_km_per_h, is_warm=False) * duration_h
    gain_l = drink_l_per_h * duration_h - sweat_l
    lost_mmol = sweat_l * (sodium_mmol_per_l + potassium_mmol_per_l)
    ends = [
        balance.plasma_sodium_mmol_per_l(share * mass_kg, water_gain_l=gain_l, cation_gain_mmol=-lost_mmol)
        for share in (0.50, 0.63)
    ]
    return [float(-gain_l / mass_kg > 0.02), float(max(ends) < 135.0)]


def _salts(*, salt_g, citrate_g, potassium_chloride_g, glucose_g):
    citrate_mmol = sodium_mmol(citrate_sodium_mg(citrate_g))
    potassium_mmol = potassium_chloride_g / POTASSIUM_CHLORIDE_G_PER_MOL * 1000
    osmolality = drinks.osmolality_mosm_per_l(
        monosaccharide_g_per_l=glucose_g,
        chloride_mmol_per_l=salt_g / SODIUM_CHLORIDE_G_PER_MOL * 1000 + potassium_mmol,
        citrate_sodium_mmol_per_l=citrate_mmol,
    )
    return [sodium_mmol(salt_sodium_mg(salt_g)) + citrate_mmol, osmolality]


def _blend_and_salts(**at):
    chloride = batch(1.0, sodium_mg_per_l=1000.0, carbohydrate_g_per_l=0.0)
    citrate = batch(1.0, sodium_mg_per_l=1000.0, carbohydrate_g_per_l=0.0, citrate_share_frac=1.0)
    return [drinks.blend_frac(**at), chloride.salt_g, citrate.citrate_g]


def regression_case(**changed):
    """Section 11: 68 kg, 4.5 h at 1 L/h and 1000 mg/L, feeds every 0.75 h."""
    times_h = np.arange(7) * 0.75
    given = {
        "times_h": times_h, "sweat_q10_l": 0.85 * times_h, "sweat_q50_l": times_h, "sweat_q90_l": 1.15 * times_h,
        "tbw_l": 42.26, "mass_kg": 68.0, "sodium_mmol_per_l": sodium_mmol(1000.0),
        "drinks": (
            DrinkOption(bottle_l=0.5, water_frac=1.0),
            DrinkOption(bottle_l=0.5, water_frac=0.95, sodium_mg_per_l=460.0, carbohydrate_g_per_l=80.0),
            DrinkOption(bottle_l=0.5, water_frac=0.96, sodium_mg_per_l=1500.0, carbohydrate_g_per_l=60.0),
        ),
        "foods": (
            FoodOption(carbohydrate_g=35.0, sodium_mg=150.0, water_l=0.03),
            FoodOption(carbohydrate_g=30.0, sodium_mg=30.0, water_l=0.02),
        ),
        "max_bottles_per_feed": np.full(6, 2),
        "target_water_l": 0.70 * 4.5, "target_sodium_mg": 0.5 * 4500.0, "carbohydrate_target_g_per_h": 90.0,
        "limits": PlanLimits(
            max_carbohydrate_g_per_h=100.0, carbohydrate_allowance_g=0.0, is_every_bottle_emptied=True,
        ),
        # The case counts 10 per 60 g over 4.5 h where the default counts 1 per 6 g/h, and no deficit, ceiling or peak.
        "weights": PlanWeights(deficit_step_u=0.0, plasma_step_u=0.0, peak_u=0.0, carbohydrate_step_u=4.5,
                               risk_step_u=0.0, taste_run_u=0.0, gap_u=1e-6, gap_frac=1e-6),
    }
    return BottlePlanInput(**(given | changed))


def _bottle_plan():
    return plan_bottles(regression_case()).penalty_u


def _worksheet_rate(*, lost_kg, drunk_l, duration_h):
    """The field worksheet: mass and drink, and neither breath nor fuel taken off."""
    sweat_l, _ = stage_sweat_loss(
        mass_before_kg=70.0, mass_after_kg=70.0 - lost_kg, drunk_l=drunk_l, food_kg=0.0, urine_l=0.0, energy_kcal=0.0,
        drunk_sd_l=0.0,
    )
    return sweat_l / duration_h


def _worksheet_forecast(*, before_kg, after_kg, minutes, race_h):
    rate = _worksheet_rate(lost_kg=before_kg - after_kg, drunk_l=0.0, duration_h=minutes / 60.0)
    aim = balance.targets(race_h * rate, mass_kg=0.001, sodium_mmol_per_l=40.0)
    return [rate, race_h * rate, aim.water_l]


def _morning_noise_percent(*, true_percent, cut_percent):
    read = [monitoring.mass_reading(true / 100.0, cut_frac=cut_percent / 100.0) for true in true_percent]
    return [100.0 * read[0].true_frac, 100.0 * read[1].true_frac, read[1].ratio_low_n, read[1].ratio_not_low_n]


FUNCTIONS = {
    "worksheet_rate": _worksheet_rate,
    "worksheet_forecast": _worksheet_forecast,
    "morning_noise_percent": _morning_noise_percent,
    "thirst_and_vasopressin": lambda plasma_mosm_per_kg: [
        monitoring.thirst_thompson1986_cm(plasma_mosm_per_kg),
        monitoring.vasopressin_thompson1986_pmol_per_l(plasma_mosm_per_kg)],
    "regional_to_whole_body_mmol_per_l": regional_to_whole_body_mmol_per_l,
    "plasma_change": _plasma_change,
    "long_run": _long_run,
    "salts": _salts,
    "urine_ml": _urine_ml,
    "free_water_l": _free_water_l,
    "blend_and_salts": _blend_and_salts,
    "bottle_plan": _bottle_plan,
    "plasma_mg_per_l": sodium_mg,
    "running_sweat_l_per_h": running_sweat_l_per_h,
}


def _function(name):
    if name in FUNCTIONS:
        return FUNCTIONS[name]
    return next(getattr(module, name) for module in (balance, free_water, drinks, rehydration) if hasattr(module, name))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"fluid_balance:{row['id']}")
def test_row_of_fluid_balance(row):
    function = _function(row["function"])

    found = np.concatenate([np.atleast_1d(function(**at)) for at in json.loads(row["arguments"])])

    # Half a printed digit is reached exactly by 1.125, printed as 1.12: floats need room to say so.
    off = np.abs(found - json.loads(row["expected"]))
    assert (off <= np.array(json.loads(row["tolerance"])) + 1e-9).all(), found


def test_the_regression_case_keeps_its_totals():
    plan = plan_bottles(regression_case())

    assert plan.bottles.sum(axis=0).tolist() == [2, 3, 1]
    assert plan.foods.sum(axis=0).tolist() == [5, 3]
    assert plan.cumulative_water_l[-1] == pytest.approx(3.115, abs=1e-6)
    assert plan.cumulative_sodium_mg[-1] == pytest.approx(2280.0, abs=1e-3)
    assert plan.cumulative_carbohydrate_g[-1] == pytest.approx(415.0, abs=1e-3)
    assert plan.deficit_frac[-1] == pytest.approx(0.0204, abs=5e-5)
    end = balance.plasma_sodium_mmol_per_l(
        42.26, water_gain_l=3.115 - 4.5, cation_gain_mmol=sodium_mmol(2280.0 - 4500.0) - 5.0 * 4.5,
    )
    assert end == pytest.approx(142.5, abs=0.05)
