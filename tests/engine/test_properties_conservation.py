"""Water and sodium are conserved to 1e-9 wherever the engine moves them, and every inverse leads back."""

import numpy as np
import pytest
from brinebook.engine import units
from brinebook.engine.measure.corrections import corrected_sodium
from brinebook.engine.measure.ion_checks import conductivity_reading
from brinebook.engine.measure.mass_balance import stage_sweat_loss, weighed_ride
from brinebook.engine.measure.sample_chemistry import conductivity_equivalent_mmol_per_l, lognormal_parameters
from brinebook.engine.plan import balance, drinks, rehydration
from brinebook.engine.plan.recipe import batch
from brinebook.engine.settle.intake import IntakeFacts, drunk_from_facts
from brinebook.engine.settle.sodium_loss import race_sodium_loss, stage_sodium_loss
from brinebook.engine.stage.air import dew_point_c, saturation_vapour_pressure_pa
from brinebook.engine.stage.effort import riding_energy_kcal, riding_work_kj
from hypothesis import given, settings
from hypothesis import strategies as st

EXACT = {"rel": 1e-9, "abs": 1e-9}
LITRES, SMALL = st.floats(0.0, 6.0), st.floats(0.0, 2.0)
SODIUM = st.floats(10.0, 100.0)


@settings(deadline=None)
@given(st.tuples(st.floats(50.0, 90.0), st.floats(-1.0, 4.0), LITRES, SMALL, SMALL, st.floats(0.0, 6000.0), SMALL,
                 SMALL))
def test_every_kilogram_of_a_stage_has_gone_somewhere(form):
    before, lost, drunk, food, urine, kcal, kit, stool = form
    sweat_l, _ = stage_sweat_loss(
        mass_before_kg=before, mass_after_kg=before - lost, drunk_l=drunk, food_kg=food, urine_l=urine,
        energy_kcal=kcal, drunk_sd_l=0.1, kit_sweat_kg=kit, faeces_kg=stool,
    )

    after_by_flows = before + drunk + food - urine - stool - sweat_l + kit - 0.20e-3 * kcal
    assert after_by_flows == pytest.approx(before - lost, **EXACT)


@settings(deadline=None)
@given(st.tuples(st.floats(0.5, 3.0), LITRES, SMALL, SMALL, st.floats(1.0, 6.0), st.floats(0.0, 350.0),
                 st.floats(0.3, 4.0)))
def test_every_kilogram_of_a_weighed_ride_has_gone_somewhere(form):
    lost, drunk, food, urine, hours, power_w, vapour_kpa = form
    ride = weighed_ride(
        mass_before_kg=70.0, mass_after_kg=70.0 - lost, fluid_drunk_l=drunk, food_kg=food, urine_l=urine,
        duration_h=hours, power_w=power_w, gross_efficiency_frac=0.22, vapour_pressure_kpa=vapour_kpa,
    )

    gone = ride.sweat_l + ride.respiratory_kg + ride.gas_kg + urine
    assert gone - drunk - food == pytest.approx(lost, **EXACT)
    assert ride.sweat_rate_l_per_h * hours == pytest.approx(ride.sweat_l, **EXACT)


@given(st.lists(st.floats(0.3, 0.8), min_size=1, max_size=12), st.floats(0.0, 1.0), st.floats(0.0, 0.3))
def test_every_litre_handed_up_is_drunk_or_named(handed, came_back_share, poured_share):
    back, poured = came_back_share * 0.5 * sum(handed), poured_share * sum(handed)
    found = drunk_from_facts(IntakeFacts(
        handed_up_l=tuple(handed), came_back_l=(back,), came_back_evidence=("weighed",), poured_l=(poured,)))

    assert found.derived_l + back + poured == pytest.approx(sum(handed), **EXACT)


@given(st.floats(30.0, 50.0), st.floats(-4.0, 3.0), st.floats(-400.0, 300.0), st.floats(130.0, 150.0))
def test_cations_are_what_they_were_and_what_came(tbw_l, water_l, cations_mmol, start):
    after = balance.plasma_sodium_mmol_per_l(
        tbw_l, water_gain_l=water_l, cation_gain_mmol=cations_mmol, start_mmol_per_l=start)

    held = ((after + 23.8) * (tbw_l + water_l) - (start + 23.8) * tbw_l) / 1.03
    assert held == pytest.approx(cations_mmol, rel=1e-9, abs=1e-6)


@given(st.floats(30.0, 50.0), st.floats(0.1, 3.0), SODIUM)
def test_plain_water_at_the_threshold_leaves_plasma_as_it_was(tbw_l, sweat_l, sodium):
    threshold = balance.replacement_threshold_frac(sodium)
    after = balance.plasma_sodium_mmol_per_l(
        tbw_l, water_gain_l=(threshold - 1.0) * sweat_l, cation_gain_mmol=-(sodium + 5.0) * sweat_l)

    assert after == pytest.approx(140.0, rel=1e-9)


@given(st.lists(st.tuples(st.floats(0.0, 3000.0), st.floats(0.2, 1.0)), min_size=1, max_size=6))
def test_mixed_bottles_hold_the_sodium_of_each(bottles):
    levels, volumes = zip(*bottles, strict=True)

    mixed = drinks.mixed_mg_per_l(levels, volumes_l=volumes)

    assert mixed * sum(volumes) == pytest.approx(sum(c * v for c, v in bottles), **EXACT)


@given(st.floats(0.0, 900.0), st.floats(1000.0, 3000.0), st.floats(0.0, 1.0))
def test_a_blend_is_as_salty_as_it_was_meant_to_be(weak, strong, share):
    target = weak + share * (strong - weak)
    found = drinks.blend_frac(weak, strong_mg_per_l=strong, target_mg_per_l=min(max(target, weak), strong))

    mixed = drinks.mixed_mg_per_l((weak, strong), volumes_l=(1.0 - found, found))
    assert mixed == pytest.approx(target, rel=1e-9, abs=1e-6)


@given(st.floats(0.5, 40.0), st.floats(0.0, 3000.0), st.floats(0.0, 1.0))
def test_a_batch_holds_the_sodium_it_was_weighed_for(volume_l, sodium, citrate_share):
    made = batch(volume_l, sodium_mg_per_l=sodium, carbohydrate_g_per_l=60.0, citrate_share_frac=citrate_share)

    held_mg = units.salt_sodium_mg(made.salt_g) + units.citrate_sodium_mg(made.citrate_g)
    assert held_mg == pytest.approx(volume_l * sodium, rel=1e-9, abs=1e-6)


@given(st.lists(st.floats(1.0, 7.0), min_size=1, max_size=21), SODIUM)
def test_a_race_loses_what_its_stages_lose(stages_l, sodium):
    race = race_sodium_loss(stages_l, sweat_sd_l=[0.3] * len(stages_l), sodium_mmol_per_l=sodium,
                            calibration_sd_mmol_per_l=6.5)
    one_by_one = sum(
        stage_sodium_loss(litres, sweat_sd_l=0.3, sodium_mmol_per_l=sodium, sodium_sd_mmol_per_l=6.5).mean_mmol
        for litres in stages_l)

    assert race.mean_mmol == pytest.approx(one_by_one, **EXACT)
    # Calibration is one error for the whole race: it does not average out.
    assert race.spread_frac * race.mean_mmol >= 6.5 * sum(stages_l) * (1.0 - 1e-9)


@given(SODIUM, st.floats(20.0, 200.0), st.floats(0.0, 400.0))
def test_diluting_a_sample_and_taking_it_off_leads_back(sodium, volume_ul, diluent_ul):
    read = sodium * volume_ul / (volume_ul + diluent_ul)

    assert corrected_sodium(read, volume_ul=volume_ul, diluent_ul=diluent_ul).sodium_mmol_per_l == pytest.approx(
        sodium, **EXACT)


@given(SODIUM, st.floats(0.0, 0.9))
def test_drying_a_sample_and_taking_it_off_leads_back(sodium, gone):
    assert corrected_sodium(sodium / (1.0 - gone), volume_ul=90.0, evaporated_frac=gone).sodium_mmol_per_l == (
        pytest.approx(sodium, **EXACT))


@given(st.floats(0.1, 5000.0), st.floats(1.0, 100.0), st.floats(0.1, 30.0), st.floats(0.15, 0.3))
def test_pairs_of_units_lead_back(sodium_mg, mmol, salt_g, efficiency):
    assert units.sodium_mg(units.sodium_mmol(sodium_mg)) == pytest.approx(sodium_mg, **EXACT)
    assert units.sodium_mmol(units.sodium_mg(mmol)) == pytest.approx(mmol, **EXACT)
    assert units.salt_g(units.salt_sodium_mg(salt_g)) == pytest.approx(salt_g, **EXACT)
    kcal = riding_energy_kcal(sodium_mg, gross_efficiency_frac=efficiency)
    assert riding_work_kj(kcal, gross_efficiency_frac=efficiency) == pytest.approx(sodium_mg, **EXACT)


@given(st.floats(1.0, 150.0), st.floats(-20.0, 45.0), st.floats(10.0, 80.0), st.floats(0.1, 40.0))
def test_formulas_and_their_inverses_lead_back(chloride, air_c, mean, sd):
    equivalent = conductivity_equivalent_mmol_per_l(chloride)
    assert conductivity_reading(equivalent).chloride_mmol_per_l == pytest.approx(chloride, rel=1e-9, abs=1e-9)
    assert float(dew_point_c(saturation_vapour_pressure_pa(air_c))) == pytest.approx(air_c, abs=1e-9)
    log_mean, log_sd = lognormal_parameters(mean, sd=sd)
    assert np.exp(log_mean + log_sd**2 / 2.0) == pytest.approx(mean, **EXACT)


@given(st.floats(20.0, 61.0))
def test_at_the_balancing_ratio_as_much_stays_as_was_lost(sodium):
    ratio = rehydration.balancing_ratio_frac(sodium)

    kept = ratio * (1.0 - rehydration.urine_fraction_frac(ratio, sodium_mmol_per_l=sodium))
    assert kept == pytest.approx(1.0, abs=1e-9)


@settings(deadline=None)
@given(st.lists(SODIUM, min_size=1, max_size=20), st.floats(0.0, 1.2))
def test_an_array_of_levels_is_a_loop_of_scalars(levels, replaced):
    together = balance.sodium_share_frac(replaced, sodium_mmol_per_l=np.array(levels))
    alone = [balance.sodium_share_frac(replaced, sodium_mmol_per_l=level) for level in levels]

    np.testing.assert_allclose(together, alone, rtol=1e-12)
    thresholds = balance.replacement_threshold_frac(np.array(levels))
    np.testing.assert_allclose(thresholds, [balance.replacement_threshold_frac(level) for level in levels], rtol=1e-12)
