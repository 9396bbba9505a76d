"""Labels: units come out right, and every classic mistake is asked about, never mended."""

import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.plan.label import Line, Serving, label_reading

HALF_LITRE = Serving(31.0, 0.5)
"""62 g of powder in a litre: 500 mg/L of sodium and 60 g/L of carbohydrate are 8.06 mg and 0.968 g in a gram."""


def read(*lines, serving=HALF_LITRE):
    return label_reading(tuple(Line(*line) for line in lines), serving=serving)


def codes(reading):
    return {question.code for question in reading.questions}


@pytest.mark.parametrize("line", [
    ("sodium", 250.0, "mg", "serving"), ("sodium", 50.0, "mg", "100_ml"), ("sodium", 500.0, "mg", "litre"),
    ("salt", 0.625, "g", "serving"), ("salt", 0.125, "g", "100_ml"), ("salt", 1.25, "g", "litre"),
    ("sodium", 21.749, "mmol", "litre"), ("sodium", 806.45, "mg", "100_g"), ("salt", 2.0161, "g", "100_g"),
])
def test_one_drink_said_in_nine_ways_holds_the_same_sodium_and_asks_nothing(line):
    reading = read(line)

    assert reading.sodium_mg_per_g == pytest.approx(500.0 / 62.0, rel=1e-4)
    assert reading.questions == ()


def test_salt_on_a_label_is_two_and_a_half_times_its_sodium():
    """Regulation (EU) No 1169/2011, Annex I, point 11: salt = sodium x 2.5."""
    assert read(("salt", 2.5, "g", "litre")).sodium_mg_per_g * 62.0 == pytest.approx(1000.0)


MISTAKES = [
    # typed, the slip of the hand, the code that must be among the questions
    (("sodium", 2000.0, "mg", "litre"), "salt of a drink with 800 mg typed as sodium", "is_salt"),
    (("sodium", 2.0, "g", "litre"), "the same in grams", "is_salt"),
    (("sodium", 1.25, "g", "litre"), "salt of a drink with 500 mg, still a likely drink: the unit gives it away",
     "is_salt"),
    (("salt", 0.3, "g", "litre"), "sodium of a drink with 300 mg typed as salt", "is_sodium"),
    (("salt", 500.0, "mg", "litre"), "sodium in mg typed as salt", "is_sodium"),
    (("sodium", 500.0, "g", "litre"), "milligrams typed as grams", "g_for_mg"),
    (("sodium", 0.5, "mg", "litre"), "grams typed as milligrams", "mg_for_g"),
    (("sodium", 22.0, "mg", "litre"), "millimoles typed as milligrams", "mg_for_mmol"),
    (("sodium", 500.0, "mmol", "litre"), "milligrams typed as millimoles", "mmol_for_mg"),
    (("sodium", 50.0, "mg", "serving"), "a figure per 100 mL typed as per serving", "per_100_ml"),
    (("sodium", 250.0, "mg", "100_ml"), "a figure per serving typed as per 100 mL", "per_serving"),
    (("sodium", 500.0, "mg", "100_ml"), "a figure per litre typed as per 100 mL", "per_litre"),
    (("carbohydrate", 6.0, "g", "litre"), "a figure per 100 mL typed as per litre", "per_100_ml"),
    (("carbohydrate", 97.0, "g", "serving"), "a figure per 100 g typed as per serving", "per_100_g"),
]


@pytest.mark.parametrize(("line", "slip", "code"), MISTAKES, ids=[slip for _, slip, _ in MISTAKES])
def test_a_classic_mistake_is_asked_about_with_the_figure_it_would_give(line, slip, code):
    reading = read(line)
    asked = {question.code: question for question in reading.questions}

    assert code in asked, slip
    assert asked[code].otherwise is not None
    assert asked[code].otherwise != pytest.approx(asked[code].typed)
    # The figure stays as typed: a question is no repair.
    as_typed = reading.carbohydrate_g_per_g if line[0] == "carbohydrate" else reading.sodium_mg_per_g
    assert as_typed * 62.0 == pytest.approx(asked[code].typed)


def test_salt_taken_for_sodium_is_off_by_the_label_s_factor():
    [asked] = [q for q in read(("sodium", 2000.0, "mg", "litre")).questions if q.code == "is_salt"]

    assert asked.typed / asked.otherwise == pytest.approx(2.54, rel=0.02)


def test_lines_of_one_label_that_disagree_are_asked_about():
    assert "disagree" in codes(read(("sodium", 500.0, "mg", "litre"), ("salt", 0.5, "g", "litre")))
    assert codes(read(("sodium", 500.0, "mg", "litre"), ("salt", 1.25, "g", "litre"))) == set()
    assert "disagree" in codes(read(("carbohydrate", 30.0, "g", "serving"), ("carbohydrate", 3.0, "g", "100_ml")))


def test_a_gram_cannot_hold_more_than_a_gram():
    found = codes(read(("carbohydrate", 96.0, "g", "100_g"), ("salt", 30.0, "g", "100_g"), serving=Serving()))

    assert "more_than_powder" in found


def test_a_strong_drink_meant_as_such_is_asked_about_once_and_stays():
    reading = read(("sodium", 1500.0, "mg", "litre"))

    assert "is_salt" in codes(reading)
    assert reading.sodium_mg_per_g * 62.0 == pytest.approx(1500.0)


def test_a_line_per_serving_needs_the_serving():
    assert codes(read(("sodium", 250.0, "mg", "serving"), serving=Serving())) == {"serving_missing"}
    with pytest.raises(UnphysicalInput):
        read(("sodium", 250.0, "mg", "serving"), serving=Serving(0.0, 0.5))


def test_fructose_is_a_share_of_the_carbohydrate():
    reading = read(("carbohydrate", 96.0, "g", "100_g"), ("fructose", 38.4, "g", "100_g"))

    assert reading.fructose_frac == pytest.approx(0.4)
    assert read(("carbohydrate", 96.0, "g", "100_g")).fructose_frac is None
