"""The rule on a card: one sentence, its range where the test is uncertain, and the food that stands in."""

import pytest
from brinebook.records.derived import PocketRule
from brinebook.records.edited import Drink, Food
from brinebook.sheets.cards import Names, rule_sentence
from brinebook.sheets.markup import Paper

NAMES = Names(
    {"s": Drink(id="s", name="Standard", short_name="S", sodium_mg_per_l=800.0),
     "h": Drink(id="h", name="Salty", short_name="H", sodium_mg_per_l=3000.0)},
    {"rice": Food(id="rice", name="Salted rice cake", carbohydrate_g=28.0, sodium_mg=320.0)},
)


def _rule(code, **more):
    return PocketRule(code=code, target_mg_per_l=1080.0, base_drink_id="s", salty_drink_id="h", **more)


@pytest.mark.parametrize(("rule", "said"), [
    # Trade facts, common practice, no source: about one high-sodium bottle in seven or eight; mix and water in turn.
    (_rule("every_nth_salty", one_in_n=7.6), "Every 8th bottle H, else S."),
    (_rule("every_nth_salty", one_in_n=7.6, one_in_n_low=6.0, one_in_n_high=11.0),
     "Every 8th bottle H, else S. <small>Between 1 in 6 and 1 in 11: the sweat test is not surer than that.</small>"),
    (_rule("every_nth_salty", one_in_n=7.6, food_id="rice", food_units_per_salty_bottle=3.4),
     "Every 8th bottle H, else S. <small>Or 3.5 \u00d7 Salted rice cake in place of each H.</small>"),
    (_rule("every_nth_salty", one_in_n=1.2), "All bottles H."),
    (_rule("alternate_water", one_in_n=2.0), "S and water in turn."),
    (_rule("standard_only"), "All bottles S."), (_rule("all_salty"), "All bottles H."),
    (_rule("no_blend"), "No blend is as salty as your sweat: H, and salty food."),
    (None, "No rule yet: take what the plan says."),
])
def test_the_rule_is_said_as_a_rider_would(rule, said):
    assert rule_sentence(rule, NAMES, Paper("en")) == said


def test_a_name_is_text_and_never_markup():
    names = Names({"s": Drink(id="s", name="x", short_name="<b>", sodium_mg_per_l=1.0)}, {})

    assert rule_sentence(_rule("standard_only"), names, Paper("en")) == "All bottles &lt;b&gt;."
