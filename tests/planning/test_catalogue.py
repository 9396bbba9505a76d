"""Figures of the catalogue: a drink is its recipe, a powder its label, and neither is kept with another figure."""

import pytest
from brinebook.planning.catalogue import composition, refusal_of
from brinebook.records.edited import Drink, LabelLine, Portion, Supply

WHO = {
    "salt": Supply(id="salt", name="Salt", kind="table_salt"),
    "citrate": Supply(id="citrate", name="Citrate", kind="citrate"),
    "glucose": Supply(id="glucose", name="Glucose", carbohydrate_g_per_g=1.0, fructose_frac=0.0),
    "mix": Supply(id="mix", name="Mix", carbohydrate_g_per_g=0.9, sodium_mg_per_g=5.0, fructose_frac=0.4,
                  allergens=["soybeans"]),
    "bare": Supply(id="bare", name="Bare", carbohydrate_g_per_g=0.9),
}


def _recipe(**grams):
    return [Portion(supply_id=key, g_per_l=g) for key, g in grams.items()]


def test_the_reduced_osmolarity_formula_comes_out_of_its_salts():
    """WHO/UNICEF reduced-osmolarity formula without its KCl: 2.6 g NaCl, 2.9 g citrate, 13.5 g glucose in a litre.

    The formula says 75 mmol/L of sodium and 245 mOsm/L, of which KCl (1.5 g) brings 40.
    """
    made = composition(_recipe(salt=2.6, citrate=2.9, glucose=13.5), WHO)

    assert made.sodium_mg_per_l / 22.98977 == pytest.approx(75.0, abs=1.0)
    assert made.osmolality_mosm_per_l + 2 * 1.5 / 74.55 * 1000 == pytest.approx(245.0, abs=2.0)
    assert made.carbohydrate_g_per_l == 13.5


@pytest.mark.parametrize(("recipe", "sugar", "fructose"), [
    ({"glucose": 60.0}, "single", 0.0), ({"mix": 60.0}, "mixed", 0.4), ({"salt": 2.0}, "none", None),
    ({"bare": 60.0}, "unknown", None), ({"mix": 10.0, "glucose": 60.0}, "single", pytest.approx(3.6 / 69.0)),
])
def test_the_kind_of_sugar_follows_from_the_powders(recipe, sugar, fructose):
    made = composition(_recipe(**recipe), WHO)

    assert (made.sugar, made.fructose_frac) == (sugar, fructose)


def test_allergens_of_the_powders_are_the_drink_s():
    assert composition(_recipe(mix=60.0, salt=1.0), WHO).allergens == ("soybeans",)


def _drink(**more):
    return Drink(**{"id": "d", "name": "D", "short_name": "D", "sodium_mg_per_l": 300.0, "carbohydrate_g_per_l": 54.0,
                    "recipe": _recipe(mix=60.0), **more})


@pytest.mark.parametrize(("drink", "field"), [
    (_drink(), None), (_drink(sodium_mg_per_l=700.0), "sodium_mg_per_l"),
    (_drink(carbohydrate_g_per_l=60.0), "carbohydrate_g_per_l"), (_drink(recipe=_recipe(gone=5.0)), "recipe"),
    (_drink(recipe=_recipe(salt=12.0)), "recipe"),
])
def test_a_drink_is_kept_only_with_the_figures_of_its_recipe(drink, field):
    refusal = refusal_of(drink, WHO)

    assert (None if refusal is None else refusal.field) == field


def _labelled(**more):
    line = LabelLine(nutrient="sodium", typed=2000.0, unit="mg", basis="litre")
    return Supply(**{"id": "p", "name": "P", "serving_g": 62.0, "serving_l": 1.0, "label": [line],
                     "sodium_mg_per_g": 2000.0 / 62.0, **more})


def test_a_powder_with_an_open_question_waits_and_an_answer_lets_it_through():
    refusal = refusal_of(_labelled(), {})

    assert refusal.field == "answered"
    assert "0:is_salt" in refusal.limit
    answers = refusal.limit.removeprefix("an answer to ").split(", ")
    assert refusal_of(_labelled(answered=answers), {}) is None


def test_a_powder_is_kept_only_with_the_figures_of_its_label():
    answers = refusal_of(_labelled(), {}).limit.removeprefix("an answer to ").split(", ")

    assert refusal_of(_labelled(answered=answers, sodium_mg_per_g=12.0), {}).field == "sodium_mg_per_g"
