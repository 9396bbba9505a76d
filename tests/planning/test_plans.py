"""Plans: drafts follow the facts, published plans wait, hard limits and locks are said."""

import msgspec
import pytest
from brinebook.planning.feeds import feeds_of
from brinebook.planning.publish import cap_flags
from brinebook.planning.recompute import Changed, plan_stage, publish_stage, recompute
from brinebook.records.derived import RiderProfile, Settlement, StageForecast, StagePlan
from brinebook.records.edited import Drink, FeedPoint
from planning.fakes import DAY_MS, FIRST_START_MS, HOUR_MS, TEAM, Facts, stage, stages_of, team

START = Changed(subject_ids=frozenset({"r1"}), edited_types=frozenset({"stage"}))


@pytest.fixture(scope="module")
def computed_race():
    repository, _ = team(n_stages=4, n_riders=1)
    recompute(repository, TEAM, START)
    return repository


@pytest.fixture
def race(computed_race):
    repository = computed_race.copy()
    return repository, Facts(repository), stages_of(repository)


def _plan(repository, stage_id="s1"):
    return repository.record(f"stage_plan:r1:{stage_id}", StagePlan)


def _codes(record):
    return [flag.code for flag in record.flags]


def _settle(repository, facts, stages, stage_id="s1", after_kg=66.8):
    facts.ride_a_stage("r1", stages[stage_id], before_kg=68.0, after_kg=after_kg, agreed_l=2.9)
    recompute(repository, TEAM, Changed(frozenset({"r1"}), frozenset({"agreed"}), frozenset({stage_id})))


def test_a_plan_hands_up_only_whole_bottles_the_team_has_and_adds_up(race):
    plan = _plan(race[0])

    assert {key for step in plan.steps for key in step.bottles} <= {"water", "standard", "salty"}
    assert sum(step.drink_l for step in plan.steps) == pytest.approx(plan.along[-1].intake_l)
    assert plan.along[-1].sodium_mg == plan.sodium_mg
    assert [step.km for step in plan.steps] == [0.0, 50.0, 80.0, 105.0]
    assert [step.until_km for step in plan.steps] == [50.0, 80.0, 105.0, pytest.approx(150.0, abs=0.5)]


def test_a_plan_never_plans_past_what_is_surely_lost(race):
    repository, _, _ = race
    forecast = repository.record("stage_forecast:r1:s1", StageForecast)

    plan = _plan(repository)

    assert plan.water_l <= forecast.sweat_q10_l + 0.25
    assert plan.lane_high_l == forecast.sweat_q10_l
    assert min(point.plasma_sodium_low_mmol_per_l for point in plan.along) >= 138.0 - 1e-6


def test_a_first_plan_says_so(race):
    assert [reason.code for reason in _plan(race[0]).changed] == ["first_plan"]


def test_every_input_of_a_plan_has_its_evidence(race):
    reasons = {reason.code: reason.evidence for reason in _plan(race[0]).reasons}

    assert reasons["sweat_factor"] == "default"
    assert reasons["sodium"] == "default"
    assert reasons["forecast"] == "predicted"


def test_publishing_sets_the_status_and_counts_versions(race):
    repository, facts, stages = race

    assert publish_stage(repository, TEAM, "s2") == ["r1"]
    first = _plan(repository, "s2")
    _settle(repository, facts, stages)
    publish_stage(repository, TEAM, "s2")
    second = _plan(repository, "s2")

    assert (first.status, first.plan_version, first.supersedes) == ("published", 1, None)
    assert (second.status, second.plan_version, second.supersedes) == ("published", 2, 1)


def test_publishing_twice_without_news_keeps_the_version(race):
    repository, _, _ = race
    publish_stage(repository, TEAM, "s1")
    sha = repository.heads["stage_plan:r1:s1"].sha

    publish_stage(repository, TEAM, "s1")

    assert repository.heads["stage_plan:r1:s1"].sha == sha


def test_a_published_plan_keeps_its_figures_and_says_that_it_is_overtaken(race):
    repository, facts, stages = race
    publish_stage(repository, TEAM, "s2")
    before = _plan(repository, "s2")

    _settle(repository, facts, stages)
    after = _plan(repository, "s2")

    assert after.steps == before.steps
    assert after.status == "published"
    assert "plan_superseded" in _codes(after)
    assert "sweat_factor" in {reason.code for reason in after.changed}
    assert _plan(repository, "s3").status == "draft"


def test_a_published_plan_that_is_overtaken_is_said_once(race):
    repository, facts, stages = race
    publish_stage(repository, TEAM, "s2")
    _settle(repository, facts, stages)
    sha = repository.heads["stage_plan:r1:s2"].sha

    recompute(repository, TEAM, START)

    assert repository.heads["stage_plan:r1:s2"].sha == sha
    assert _codes(_plan(repository, "s2")).count("plan_superseded") == 1


def test_without_a_physicians_release_there_is_no_plan_but_a_flag(race):
    repository, _, _ = race
    body = repository.edited_records["RiderBody", "r1"]
    repository.put_edited(TEAM, msgspec.structs.replace(body, needs_physician_release=True, version=2))

    recompute(repository, TEAM, Changed(frozenset({"r1"}), edited_types=frozenset({"rider_body"})))

    plan = _plan(repository)
    assert (plan.steps, plan.water_l, plan.pre_stage_drink_l) == ([], 0.0, 0.0)
    assert next((flag.code, flag.severity, flag.detail) for flag in plan.flags) == (
        "physician_release", "medical", "tell_team_physician"
    )
    assert publish_stage(repository, TEAM, "s1") == []


def test_a_released_rider_is_planned_again(race):
    repository, _, _ = race
    body = repository.edited_records["RiderBody", "r1"]
    repository.put_edited(TEAM, msgspec.structs.replace(
        body, needs_physician_release=True, is_released_by_physician=True, version=2))

    recompute(repository, TEAM, Changed(frozenset({"r1"}), edited_types=frozenset({"rider_body"})))

    assert _plan(repository).steps
    assert "physician_release" not in _codes(_plan(repository))


def test_a_riders_own_tested_limit_lowers_the_intake(race):
    repository, _, _ = race
    body = repository.edited_records["RiderBody", "r1"]
    repository.put_edited(TEAM, msgspec.structs.replace(body, max_intake_l_per_h=0.4, version=2))

    recompute(repository, TEAM, Changed(frozenset({"r1"}), edited_types=frozenset({"rider_body"})))

    hours = repository.record("stage_forecast:r1:s1", StageForecast).duration_h
    assert sum(step.drink_l for step in _plan(repository).steps) <= 0.4 * hours + 1e-6


def test_a_batch_weaker_than_its_label_is_flagged_and_what_it_carries_is_used(race):
    repository, facts, stages = race
    facts.add("mix_check", "team-1", {"drink_id": "standard", "sodium_mg_per_l": 500.0}, at_ms=FIRST_START_MS - DAY_MS)

    recompute(repository, TEAM, Changed(frozenset({"team-1"}), frozenset({"mix_check"})))
    facts.ride_a_stage("r1", stages["s1"], before_kg=68.0, after_kg=66.8)
    recompute(repository, TEAM, Changed(frozenset({"r1"}), frozenset({"weighed"}), frozenset({"s1"})))

    flag = next(flag for flag in _plan(repository, "s2").flags if flag.code == "mix_too_weak")
    settlement = repository.record("settlement:r1:s1", Settlement)
    assert (flag.value, flag.limit, flag.detail) == (500.0, 800.0, "standard")
    assert settlement.sodium_drunk_mg == pytest.approx(1.5 * 500.0, rel=0.01)
    assert "mix_too_weak" in _codes(settlement)


def test_a_batch_within_a_tenth_of_its_label_counts_as_labelled(race):
    repository, facts, stages = race
    facts.add("mix_check", "team-1", {"drink_id": "standard", "sodium_mg_per_l": 740.0}, at_ms=FIRST_START_MS - DAY_MS)

    facts.ride_a_stage("r1", stages["s1"], before_kg=68.0, after_kg=66.8)
    recompute(repository, TEAM, Changed(frozenset({"r1"}), frozenset({"weighed", "mix_check"}), frozenset({"s1"})))

    settlement = repository.record("settlement:r1:s1", Settlement)
    assert settlement.sodium_drunk_mg == pytest.approx(1.5 * 800.0, rel=0.01)
    assert "mix_too_weak" not in _codes(settlement) + _codes(_plan(repository, "s2"))


def test_a_changed_drink_makes_new_drafts(race):
    repository, _, _ = race
    sha = repository.heads["stage_plan:r1:s1"].sha
    drink = repository.edited_records["Drink", "standard"]
    repository.put_edited(TEAM, msgspec.structs.replace(drink, sodium_mg_per_l=1000.0, version=2))

    recompute(repository, TEAM, Changed(frozenset({"standard"}), edited_types=frozenset({"drink"})))

    assert repository.heads["stage_plan:r1:s1"].sha != sha


def test_a_drink_stronger_than_the_ceiling_is_never_handed_up(race):
    repository, _, _ = race
    repository.put_edited(TEAM, Drink(id="brine", name="Brine", short_name="B", kind="other", sodium_mg_per_l=3000.0,
                                      version=1))

    recompute(repository, TEAM, Changed(frozenset({"brine"}), edited_types=frozenset({"drink"})))

    assert all("brine" not in step.bottles for step in _plan(repository).steps)


def test_a_rider_on_a_hot_stage_is_flagged_at_the_cap():
    repository, _ = team(n_stages=1, n_riders=1, air_temperature_c=40.0, kind="mountain")

    recompute(repository, TEAM, START)

    assert "at_cap" in _codes(repository.record("stage_forecast:r1:s1", StageForecast))
    assert "at_cap" in _codes(_plan(repository))
    assert "out_of_range" in _codes(repository.record("stage_forecast:r1:s1", StageForecast))


@pytest.mark.parametrize(("share_frac", "severities"), [(0.0, []), (0.02, ["note"]), (0.15, ["caution"])])
def test_a_short_hill_at_the_cap_is_a_footnote_and_a_long_one_a_caution(share_frac, severities):
    assert [flag.severity for flag in cap_flags(share_frac)] == severities


def test_a_light_morning_is_flagged_on_the_profile_and_never_on_the_plan_others_see(race):
    repository, facts, _ = race
    for day, mass_kg in enumerate((68.0, 68.1, 67.9, 68.0, 66.4)):
        facts.add("morning_check", "r1", {"mass_kg": mass_kg, "urine_colour": 7, "thirst": 6},
                  at_ms=FIRST_START_MS - (4 - day) * DAY_MS - 5 * HOUR_MS)

    recompute(repository, TEAM, Changed(frozenset({"r1"}), frozenset({"morning_check"})))

    codes = _codes(repository.record("profile:r1", RiderProfile))
    assert "morning_mass_below_band" in codes
    assert "morning_check" in codes
    assert not {code for code in _codes(_plan(repository, "s1")) if code.startswith("morning")}


def test_one_morning_slightly_light_is_within_the_noise(race):
    repository, facts, _ = race
    for day, mass_kg in enumerate((68.0, 68.1, 67.9, 68.0, 67.2)):
        facts.add("morning_check", "r1", {"mass_kg": mass_kg}, at_ms=FIRST_START_MS - (4 - day) * DAY_MS - 5 * HOUR_MS)

    recompute(repository, TEAM, Changed(frozenset({"r1"}), frozenset({"morning_check"})))

    assert "morning_mass_below_band" not in _codes(repository.record("profile:r1", RiderProfile))


def test_a_deficit_from_yesterday_reaches_the_drink_before_the_start(race):
    repository, facts, stages = race
    rested_l = _plan(repository, "s2").pre_stage_drink_l

    facts.ride_a_stage("r1", stages["s1"], before_kg=68.0, after_kg=64.0, n_bottles=4, agreed_l=1.9)
    recompute(repository, TEAM, Changed(frozenset({"r1"}), frozenset({"agreed"}), frozenset({"s1"})))

    assert _plan(repository, "s2").pre_stage_drink_l > rested_l
    assert _plan(repository, "s3").pre_stage_drink_l == rested_l


def test_a_stage_without_weather_has_no_forecast(race):
    repository, _, _ = race
    bare = msgspec.structs.replace(stage(5), forecast=[])
    repository.put_edited(TEAM, bare)

    recompute(repository, TEAM, START)
    plan_stage(repository, TEAM, "s5")

    assert "stage_forecast:r1:s5" not in repository.heads
    assert publish_stage(repository, TEAM, "s5") == []


def test_zones_stay_when_car_windows_are_thinned():
    zones = [FeedPoint(id=f"z{i}", name="Z", kind="zone", km=40.0 * i) for i in (1, 2, 3)]
    cars = [FeedPoint(id=f"c{i}", name="C", kind="car", km=10.0 * i + 5) for i in range(1, 14)]

    feeds = feeds_of(msgspec.structs.replace(stage(1), feed_points=[*cars, *zones]), 150.0)

    assert feeds[0].kind == "start"
    assert {feed.id for feed in zones} <= {feed.id for feed in feeds}
    assert len(feeds) <= 9
    assert [feed.km for feed in feeds] == sorted(feed.km for feed in feeds)


def test_a_plan_does_not_tell_the_mass_to_people_who_may_not_know_it(race):
    repository, _, _ = race
    plan = _plan(repository)
    heavier = msgspec.structs.replace(repository.edited_records["RiderBody", "r1"], mass_kg=68.4)

    repository.put_edited(TEAM, heavier)
    recompute(repository, TEAM, START)

    assert _plan(repository).basis == plan.basis
    assert plan.pre_stage_drink_l == pytest.approx(0.35)
    assert "68.0" not in bytes(repository.heads["stage_plan:r1:s1"].body).decode()
