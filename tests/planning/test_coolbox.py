"""The prep sheet holds every planned bottle once, tells nothing of a body, and knows its version; stock follows."""

from collections import Counter

import msgspec
import pytest
from brinebook.planning.books import open_books
from brinebook.planning.bottle_code import N_SIGNS, modules_of
from brinebook.planning.recompute import Changed, publish_stage, recompute
from brinebook.records.derived import PrepSheet, StagePlan, Stock
from brinebook.records.edited import Drink, Food, Kit, Portion, RiderPalate, Supply
from planning.fakes import DAY_MS, FIRST_START_MS, TEAM, stages_of, team

EVERYTHING = Changed(frozenset({"r1", "r2", "r3"}), frozenset({"agreed"}), edited_types=frozenset({"stage"}))


def stocked(**options):
    """Give the small team a pantry: its standard and salty drinks are mixed from one powder and salt."""
    repository, facts = team(n_riders=3, **options)
    records = [
        Supply(id="powder", name="Powder", carbohydrate_g_per_g=0.96, sodium_mg_per_g=3.0, scoop_g=40.0, pack_g=2000.0),
        Supply(id="salt", name="Salt", kind="table_salt", scoop_g=5.0, pack_g=500.0),
        Drink(id="standard", name="Standard", short_name="S", sodium_mg_per_l=800.0, carbohydrate_g_per_l=60.0,
              recipe=[Portion(supply_id="powder", g_per_l=62.5), Portion(supply_id="salt", g_per_l=1.557)],
              is_finish_bottle=True, version=1),
        Food(id="rice", name="Rice cake", carbohydrate_g=35.0, sodium_mg=150.0, water_l=0.03, n_per_pack=10, version=1),
        Kit(id="kit", buckets_l=[10.0], version=1),
    ]
    for record in records:
        repository.put_edited(TEAM, record)
    return repository, facts


@pytest.fixture(scope="module")
def race():
    repository, facts = stocked(n_stages=5)
    recompute(repository, TEAM, EVERYTHING)
    return repository, facts


def sheets(repository):
    return [msgspec.json.decode(one.body, type=PrepSheet) for one in repository.heads.values()
            if one.type == "prep_sheet"]


def plans(repository, stage_id):
    found = (msgspec.json.decode(one.body, type=StagePlan) for one in repository.heads.values()
             if one.type == "stage_plan")
    return [plan for plan in found if plan.stage_id == stage_id]


def test_every_planned_bottle_stands_on_the_sheet_exactly_once_where_it_is_handed_up(race):
    repository, _ = race

    assert len(sheets(repository)) == 3
    for sheet in sheets(repository):
        planned = Counter(
            (plan.rider_id, step.feed_id, drink_id)
            for plan in plans(repository, sheet.stage_id) for step in plan.steps
            for drink_id, n in step.bottles.items() for _ in range(n)
        )
        packed = Counter(
            (bottle.rider_id, place.place_id, bottle.drink_id)
            for place in sheet.places if place.kind != "finish" for bottle in place.bottles if bottle.rider_id
        )
        assert packed == planned
        assert sum(planned.values()) > 0


def test_foods_are_packed_for_the_rider_and_the_place_they_are_planned_for(race):
    repository, _ = race
    for sheet in sheets(repository):
        planned = {(plan.rider_id, step.feed_id): dict(step.foods) for plan in plans(repository, sheet.stage_id)
                   for step in plan.steps if step.foods}
        packed = {(one.rider_id, place.place_id): one.foods for place in sheet.places for one in place.musettes}
        assert packed == planned


def test_numbers_run_from_one_and_every_code_is_its_own(race):
    repository, _ = race
    for sheet in sheets(repository):
        bottles = [bottle for place in sheet.places for bottle in place.bottles]
        assert [bottle.number for bottle in bottles] == list(range(1, len(bottles) + 1))
        assert len({bottle.code for bottle in bottles}) == len(bottles)
        assert all(len(bottle.code) == N_SIGNS for bottle in bottles)
        assert all(len(modules_of(bottle.qr_hex)) == sheet.qr_side_n for bottle in bottles)
    codes = [bottle.code for sheet in sheets(repository) for place in sheet.places for bottle in place.bottles]
    assert len(set(codes)) == len(codes)


def test_a_tenth_more_of_each_drink_rides_along_as_spares_that_are_nobody_s(race):
    repository, _ = race
    for sheet in sheets(repository):
        spares = [(place.kind, bottle.drink_id) for place in sheet.places for bottle in place.bottles
                  if bottle.rider_id is None]
        planned = Counter(bottle.drink_id for place in sheet.places if place.kind != "finish"
                          for bottle in place.bottles if bottle.rider_id)
        assert {kind for kind, _ in spares} <= {"zone", "car"}
        assert Counter(drink_id for _, drink_id in spares) == {key: -(-n // 10) for key, n in planned.items()}


def test_a_batch_holds_what_its_bottles_hold(race):
    repository, _ = race
    for sheet in sheets(repository):
        counts = Counter(bottle.drink_id for place in sheet.places for bottle in place.bottles)
        assert {mix.drink_id: mix.n_bottles for mix in sheet.mixes} == counts
        for mix in sheet.mixes:
            assert mix.volume_l == pytest.approx(mix.n_bottles * mix.bottle_l, abs=1e-9)
            held = sum(portion.g_per_l * portion.sodium_mg_per_g for portion in mix.portions)
            assert not mix.portions or held == pytest.approx(mix.sodium_mg_per_l, rel=0.005)


def test_a_sheet_tells_nothing_of_a_body(race):
    repository, _ = race
    for one in repository.heads.values():
        if one.type == "prep_sheet":
            text = bytes(one.body).decode()
            for word in ("sweat", "deficit", "factor", "plasma", "lane", "profile", "mass", "physician", "release"):
                assert word not in text


def test_each_rider_finds_a_bottle_at_the_finish_unless_he_cannot_take_it():
    repository, _ = stocked(n_stages=1)
    repository.put_edited(TEAM, RiderPalate(id="r2", cannot=["standard"]))
    recompute(repository, TEAM, EVERYTHING)
    [sheet] = sheets(repository)

    assert sheet.places[-1].kind == "finish"
    assert [bottle.rider_id for bottle in sheet.places[-1].bottles] == ["r1", "r3"]


def test_a_locked_rider_is_left_out_and_the_sheet_does_not_say_why():
    repository, _ = stocked(n_stages=1)
    body = repository.edited_records["RiderBody", "r2"]
    repository.put_edited(TEAM, msgspec.structs.replace(body, needs_physician_release=True))
    recompute(repository, TEAM, EVERYTHING)
    [sheet] = sheets(repository)

    assert sheet.unplanned_rider_ids == ["r2"]
    assert "r2" not in {bottle.rider_id for place in sheet.places for bottle in place.bottles}


def test_a_sheet_that_went_out_and_changes_is_the_next_version_and_says_which_it_supersedes():
    repository, _ = stocked(n_stages=1)
    publish_stage(repository, TEAM, "s1")
    [first] = sheets(repository)
    recompute(repository, TEAM, EVERYTHING)
    [again] = sheets(repository)
    standard = repository.edited_records["Drink", "standard"]
    repository.put_edited(TEAM, msgspec.structs.replace(standard, recipe=[
        Portion(supply_id="powder", g_per_l=62.5), Portion(supply_id="salt", g_per_l=1.56),
    ], version=2))
    recompute(repository, TEAM, Changed(edited_types=frozenset({"drink"})))
    [second] = sheets(repository)

    assert (first.status, first.sheet_version, first.supersedes) == ("published", 1, None)
    assert again == first
    assert (second.sheet_version, second.supersedes) == (2, 1)
    assert second.mixes != first.mixes


def test_the_same_label_stays_good_while_its_bottle_stays_the_same():
    repository, _ = stocked(n_stages=1)
    publish_stage(repository, TEAM, "s1")
    [first] = sheets(repository)
    repository.put_edited(TEAM, RiderPalate(id="r3", cannot=["standard"]))
    publish_stage(repository, TEAM, "s1")
    [second] = sheets(repository)
    by_code = {b.code: (b.number, b.rider_id, b.drink_id) for place in first.places for b in place.bottles}
    kept = {b.code: (b.number, b.rider_id, b.drink_id) for place in second.places for b in place.bottles}

    assert second.sheet_version == 2
    assert {code: by_code[code] for code in by_code.keys() & kept.keys()} == {
        code: kept[code] for code in by_code.keys() & kept.keys()
    }
    assert by_code.keys() - kept.keys()


def _stock(repository):
    return repository.record("stock:team", Stock)


def test_stock_takes_what_the_plans_take_and_scales_the_days_without_one(race):
    repository, _ = race
    stock = _stock(repository)
    powder = next(line for line in stock.lines if line.item_id == "powder")
    spared = 1.0 + open_books(repository, TEAM).kit.spare_frac
    grams = sum(
        spared * 62.5 * 0.5 * n for sheet in sheets(repository) for plan in plans(repository, sheet.stage_id)
        for step in plan.steps for drink_id, n in step.bottles.items() if drink_id == "standard"
    )
    grams += spared * 62.5 * 0.5 * 3 * 3  # a bottle at the finish, three riders, three planned days

    assert (stock.n_race_days, stock.n_planned_days) == (5, 3)
    assert powder.n_need_q10 > grams
    assert powder.n_need_q50 == pytest.approx(grams * 5 / 3, rel=0.25)
    assert powder.n_need_q10 < powder.n_need_q50 < powder.n_need_q90
    assert powder.n_on_hand is None
    assert powder.n_packs_to_buy * 2000.0 >= powder.n_need_q90


def test_a_count_a_delivery_and_what_was_ridden_since_make_what_is_there():
    repository, facts = stocked(n_stages=4)
    stages = stages_of(repository)
    facts.add("stock_counted", TEAM, {"item_id": "powder", "n_amount": 330.0}, at_ms=FIRST_START_MS - DAY_MS)
    recompute(repository, TEAM, EVERYTHING)
    before = next(line for line in _stock(repository).lines if line.item_id == "powder")
    for rider_id in ("r1", "r2", "r3"):
        facts.ride_a_stage(rider_id, stages["s1"], before_kg=68.0, after_kg=66.8, agreed_l=2.9)
    facts.add("delivered", TEAM, {"item_id": "powder", "n_amount": 400.0},
              at_ms=stages["s1"].start_at_ms + DAY_MS // 2)
    recompute(repository, TEAM, EVERYTHING)
    after = next(line for line in _stock(repository).lines if line.item_id == "powder")

    assert before.n_on_hand == 330.0
    assert before.n_days_covered < 4
    assert before.short_from_stage == before.n_days_covered + 1
    # Three bottles of standard and one at the finish for each of three riders: 12 x 0.5 L x 62.5 g/L.
    assert after.n_used == pytest.approx(12 * 0.5 * 62.5)
    assert after.n_on_hand == pytest.approx(330.0 + 400.0 - 12 * 0.5 * 62.5)
