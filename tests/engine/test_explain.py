"""Every result can be opened: unit, equation, sources, inputs, and whether the equation was made for it."""

import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.explain import (
    EQUATIONS,
    Given,
    balance_explained,
    chain_range,
    evening_explained,
    factor_explained,
    plan_explained,
    sodium_explained,
    unit_of,
)


def test_the_unit_is_the_last_word_of_the_quantity():
    names = ("sweat_q50_l", "sodium_mmol_per_l", "mass_kg", "replaced_frac", "duration_h")

    assert [unit_of(name) for name in names] == ["L", "mmol/L", "kg", "1", "h"]
    with pytest.raises(UnphysicalInput, match="wish"):
        unit_of("wish")


def test_a_population_value_says_that_it_is_one():
    untested = sodium_explained(35.9, tests=[], forearm_mmol_per_l=43.6)
    tested = sodium_explained(44.0, tests=[Given("test_weight_frac", 0.9, "measured")], forearm_mmol_per_l=58.0)

    assert (untested.equation, tested.equation) == ("sodium_population", "sodium_estimate")
    assert {given.evidence for given in untested.inputs} == {"default"}
    assert "baker2016" in tested.sources
    assert tested.unit == "mmol/L"


def test_a_forearm_level_nobody_had_is_outside():
    assert sodium_explained(80.0, tests=[], forearm_mmol_per_l=130.0).valid[0].is_inside is False
    assert sodium_explained(44.0, tests=[], forearm_mmol_per_l=58.0).valid[0].is_inside is True


def test_the_chain_names_the_end_that_lies_further_out():
    hot = chain_range("air_temperature_c", lowest_u=20.0, highest_u=44.0)
    cold = chain_range("air_temperature_c", lowest_u=-5.0, highest_u=41.0)

    assert (hot.value, hot.is_inside) == (44.0, False)
    assert (cold.value, cold.is_inside) == (-5.0, False)
    assert chain_range("power_w", lowest_u=0.0, highest_u=400.0).is_inside
    with pytest.raises(UnphysicalInput):
        chain_range("mood_n", lowest_u=0.0, highest_u=1.0)


def test_a_plan_opens_its_targets_and_both_of_its_limits():
    made = plan_explained(water_l=3.0, water_limit_l=3.5, sodium_mg=2000.0, plasma_low_mmol_per_l=137.0,
                          inputs=[Given("sweat_q50_l", 4.2, "predicted")], deficit_frac=0.05)

    assert [one.equation for one in made] == ["water_target", "water_limit", "sodium_target", "plasma_sodium"]
    assert [all(met.is_inside for met in one.valid) for one in made] == [False, True, True, False]


def test_a_balance_far_from_the_model_is_outside():
    form = [Given("mass_before_kg", 70.0, "weighed")]

    assert balance_explained(3.9, inputs=form, model_l=3.3).valid[0].is_inside
    assert not balance_explained(12.0, inputs=form, model_l=3.3).valid[0].is_inside


def test_every_explanation_stands_on_a_known_equation():
    made = [
        factor_explained(1.1, offset_log=0.05, n_weighed=3, log_sd=0.1),
        evening_explained(2.2, inputs=[Given("deficit_l", 1.5, "weighed")], ratio_frac=2.2 / 1.5),
    ]

    for one in made:
        assert one.equation in EQUATIONS
        assert one.formula
        assert one.sources
        assert all(given.quantity and given.evidence for given in one.inputs)
