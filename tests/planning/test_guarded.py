"""What holds a plan back: releases, tested limits, training, a bad gut, a sign for the doctor, rules of the day."""

import msgspec
import pytest
from brinebook.planning.feeds import feeds_of
from brinebook.planning.guarded import DOCTOR, LOWERED, limits_of
from brinebook.planning.recompute import Changed, publish_stage, recompute
from brinebook.records.derived import EveningDrink, RiderProfile, StagePlan
from brinebook.records.edited import ClosedSpan, FeedingRules, FeedPoint, RiderBody
from planning.fakes import FIRST_START_MS, HOUR_MS, TEAM, stage, stages_of, team

START = Changed(subject_ids=frozenset({"r1"}), edited_types=frozenset({"stage"}))
BODY = RiderBody(id="r1", mass_kg=68.0, height_m=1.79, age_years=26, sex="m")


@pytest.fixture
def race():
    repository, facts = team(n_stages=3, n_riders=1, rest_after=1)
    return repository, facts, stages_of(repository)


def _codes(record):
    return [flag.code for flag in record.flags]


def _settle(repository, facts, stages, after_kg=66.8, agreed_l=2.9):
    recompute(repository, TEAM, START)
    facts.ride_a_stage("r1", stages["s1"], before_kg=68.0, after_kg=after_kg, agreed_l=agreed_l)
    recompute(repository, TEAM, Changed(frozenset({"r1"}), frozenset({"weighed", "agreed"}), frozenset({"s1"})))
    return repository.record("evening_drink:r1:s1", EveningDrink)


def test_more_than_ninety_grams_need_training_and_consent():
    trained = msgspec.structs.replace(BODY, is_gut_trained=True)
    willing = msgspec.structs.replace(trained, has_agreed_to_high_carbohydrate=True)

    caps = [limits_of(body, (), opened=()).max_carbohydrate_g_per_h for body in (BODY, trained, willing)]

    assert caps == [90.0, 90.0, 120.0]


def test_a_tested_intake_holds_in_every_hour_too():
    limits = limits_of(msgspec.structs.replace(BODY, max_intake_l_per_h=0.6), (), opened=())

    assert (limits.max_intake_l_per_h, limits.max_any_hour_l_per_h) == (0.6, 0.6)


def test_a_physician_releases_sodium_per_hour():
    limits = limits_of(msgspec.structs.replace(BODY, released_sodium_mg_per_h=1300.0), (), opened=())

    assert limits.max_sodium_mg_per_h == 1300.0


def test_a_bad_gut_cuts_thirty_percent_and_sixty_grams():
    limits = limits_of(BODY, (LOWERED,), opened=())

    assert limits.max_intake_l_per_h == pytest.approx(0.7)
    assert limits.max_any_hour_l_per_h == pytest.approx(0.84)
    assert limits.max_carbohydrate_g_per_h == 60.0
    assert limits.max_single_source_g_per_h == pytest.approx(42.0)


def test_an_opened_drink_lifts_its_own_ceiling_only():
    limits = limits_of(BODY, (), opened=((2600.0, 40.0),))

    assert (limits.max_drink_sodium_mg_per_l, limits.max_drink_carbohydrate_g_per_l) == (2600.0, 80.0)


def test_vomiting_lowers_todays_plan_and_no_other(race):
    repository, facts, _ = race
    facts.add("symptom", "r1", {"symptom": "vomiting"}, at_ms=FIRST_START_MS - HOUR_MS, stage_id="s1")

    recompute(repository, TEAM, START)

    today, later = (repository.record(f"stage_plan:r1:{id_}", StagePlan) for id_ in ("s1", "s2"))
    assert "limits_lowered" in _codes(today)
    assert "limits_lowered" not in _codes(later)
    assert today.carbohydrate_g <= 60.0 * 6.0
    assert sum(step.drink_l for step in today.steps) < sum(step.drink_l for step in later.steps)


def test_a_sign_for_the_doctor_stops_every_plan_until_he_has_spoken(race):
    repository, facts, _ = race
    facts.add("symptom", "r1", {"symptom": "puffy_hands"}, at_ms=FIRST_START_MS - HOUR_MS, stage_id="s1")

    recompute(repository, TEAM, START)

    plan = repository.record("stage_plan:r1:s1", StagePlan)
    assert (plan.steps, plan.water_l, plan.pre_stage_drink_l) == ([], 0.0, 0.0)
    assert _codes(plan)[0] == "doctor_first"
    assert DOCTOR in plan.basis.input_ids
    assert publish_stage(repository, TEAM, "s1") == []


def test_a_locked_rider_has_neither_plan_nor_rule_nor_evening(race):
    repository, facts, stages = race
    body = repository.edited_records["RiderBody", "r1"]
    repository.put_edited(TEAM, msgspec.structs.replace(body, needs_physician_release=True, version=2))

    evening = _settle(repository, facts, stages)

    assert repository.record("profile:r1", RiderProfile).pocket_rule is None
    assert (evening.drink_l, evening.sodium_mg, evening.breakfast_drink_l) == (0.0, 0.0, 0.0)
    assert "physician_release" in _codes(evening)


def test_an_evening_parts_what_is_owed_and_warns(race):
    evening = _settle(*race)

    assert "evening_not_forced" in _codes(evening)
    assert evening.sodium_until_bed_mg + evening.sodium_breakfast_mg + evening.rest_day.sodium_mg == pytest.approx(
        evening.sodium_mg)
    assert evening.drink_until_bed_l <= evening.drink_l <= 1.25 * evening.deficit_l + 1e-9
    assert evening.rest_day.stage_id == "rest"
    assert evening.breakfast_drink_l == 0.0


def test_nothing_is_asked_for_in_the_last_hour_before_sleep(race):
    repository, facts, stages = race

    evening = _settle(repository, facts, stages)

    bed_ms = stages["s1"].start_at_ms + round(8.5 * HOUR_MS)  # 22:30 in Paris in June is 20:30 UTC; the start 12:00
    assert evening.last_drink_at_ms == bed_ms - HOUR_MS


def test_a_rider_who_gained_is_offered_nothing_and_sent_to_the_physician(race):
    evening = _settle(*race, after_kg=68.5, agreed_l=5.0)

    assert (evening.drink_l, evening.sodium_mg, evening.rest_day) == (0.0, 0.0, None)
    assert "evening_watch" in _codes(evening)


def test_a_rest_day_leaves_nothing_to_carry(race):
    repository, facts, stages = race
    _settle(repository, facts, stages, after_kg=64.0, agreed_l=1.9)

    assert repository.record("stage_plan:r1:s2", StagePlan).pre_stage_drink_l == pytest.approx(0.35)


def test_no_bottle_in_a_time_trial_but_the_one_on_the_bike():
    repository, _ = team(n_stages=1, n_riders=1, kind="time_trial")

    recompute(repository, TEAM, START)

    plan = repository.record("stage_plan:r1:s1", StagePlan)
    assert [step.km for step in plan.steps] == [0.0]
    assert sum(plan.steps[0].bottles.values()) <= 1


def test_the_jury_closes_stretches_and_moves_the_car():
    cars = [FeedPoint(id=f"c{km}", name="C", kind="car", km=km) for km in (20.0, 60.0, 100.0, 140.0)]
    given = msgspec.structs.replace(stage(1), feed_points=cars)
    closed = FeedingRules(closed=[ClosedSpan(55.0, 65.0)])
    jury = {"feed_opens_km": 10.0, "feed_closes_to_go_km": 5.0, "feeding": closed}

    by_date = [feed.km for feed in feeds_of(given, 150.0)]
    by_jury = [feed.km for feed in feeds_of(msgspec.structs.replace(given, **jury), 150.0)]

    assert by_date == [0.0, 60.0, 100.0]
    assert by_jury == [0.0, 20.0, 100.0, 140.0]
