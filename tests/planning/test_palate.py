"""What a rider cannot take never reaches his plan; a batch counts from its stage on."""

import msgspec
import pytest
from brinebook.planning.books import open_books
from brinebook.planning.palate import cannot_take, likes
from brinebook.planning.recompute import Changed, plan_stage, recompute
from brinebook.planning.strength import drinks_as_mixed
from brinebook.records.derived import Settlement, StagePlan
from brinebook.records.edited import Drink, Portion, RiderPalate, Supply
from planning.fakes import HOUR_MS, TEAM, stages_of, team

MILKY = Supply(id="whey", name="Whey mix", sodium_mg_per_g=12.0, carbohydrate_g_per_g=0.6, allergens=["milk"])


def _books(palate, *more):
    repository, _ = team(n_stages=1, n_riders=2)
    for record in (palate, *more):
        repository.put_edited(TEAM, record)
    return repository, open_books(repository, TEAM)


def test_an_allergen_in_a_powder_forbids_the_drink_mixed_from_it():
    shake = Drink(id="shake", name="Shake", short_name="SH", sodium_mg_per_l=600.0,
                  recipe=[Portion(supply_id="whey", g_per_l=50.0)])
    _, books = _books(RiderPalate(id="r1", cannot_allergens=["milk"], likes=["shake", "rice"]), MILKY, shake)

    assert cannot_take(books, "r1") == {"shake"}
    assert likes(books, "r1") == {"rice"}
    assert cannot_take(books, "r2") == frozenset()


def test_what_a_rider_cannot_take_is_never_planned_for_him_and_is_for_the_others():
    repository, books = _books(RiderPalate(id="r1", cannot=["standard", "rice"]))
    plan_stage(repository, TEAM, "s1")
    used = {}
    for rider_id in ("r1", "r2"):
        plan = repository.record(f"stage_plan:{rider_id}:s1", StagePlan)
        used[rider_id] = {id_ for step in plan.steps for id_ in (*step.bottles, *step.foods)}

    assert cannot_take(books, "r1") == {"standard", "rice"}
    assert not used["r1"] & {"standard", "rice"}
    assert used["r1"]
    assert "standard" in used["r2"]


def test_a_weak_batch_counts_from_its_stage_on_and_leaves_earlier_settlements_alone():
    repository, facts = team(n_stages=3, n_riders=1)
    stages = stages_of(repository)
    for key in ("s1", "s2"):
        facts.ride_a_stage("r1", stages[key], before_kg=68.0, after_kg=66.8, agreed_l=2.9)
    change = Changed(frozenset({"r1"}), frozenset({"agreed"}))
    recompute(repository, TEAM, change)
    before = {key: repository.record(f"settlement:r1:{key}", Settlement).sodium_drunk_mg for key in ("s1", "s2")}

    facts.add("mix_check", TEAM, {"drink_id": "standard", "sodium_mg_per_l": 400.0, "how": "weighed"},
              at_ms=stages["s2"].start_at_ms - HOUR_MS)
    recompute(repository, TEAM, Changed(kinds=frozenset({"mix_check"})))
    after = {key: repository.record(f"settlement:r1:{key}", Settlement).sodium_drunk_mg for key in ("s1", "s2")}

    assert after["s1"] == before["s1"]
    assert after["s2"] == pytest.approx(before["s2"] / 2.0)


@pytest.mark.parametrize(("made", "sd", "code", "carried"), [
    (780.0, None, None, 800.0), (500.0, 40.0, "mix_too_weak", 500.0), (1100.0, 40.0, "mix_too_strong", 1100.0),
    (660.0, 120.0, "mix_unsure", 800.0), (700.0, None, "mix_too_weak", 700.0),
])
def test_a_reading_too_rough_to_tell_asks_for_a_better_one(made, sd, code, carried):
    repository, facts = team(n_stages=1, n_riders=1)
    body = {"drink_id": "standard", "sodium_mg_per_l": made}
    facts.add("mix_check", TEAM, body if sd is None else {**body, "sodium_sd_mg_per_l": sd, "how": "conductivity"},
              at_ms=stages_of(repository)["s1"].start_at_ms)
    mixed = drinks_as_mixed(open_books(repository, TEAM))["standard"]

    assert [flag.code for flag in mixed.flags] == ([] if code is None else [code])
    assert mixed.sodium_mg_per_l == carried


def test_bytes_of_older_records_still_decode():
    drink = msgspec.json.decode(b'{"id":"d","version":3,"name":"D","short_name":"D","sodium_mg_per_l":800}', type=Drink)

    assert (drink.recipe, drink.sugar, drink.fructose_frac) == ([], "unknown", None)
