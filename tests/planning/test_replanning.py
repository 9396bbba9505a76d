# ruff: noqa: ARG001 - every happening takes the same three
"""Every kind of new fact makes exactly the plans stale that it touches, and each says what changed and why."""

import msgspec
import pytest
from brinebook.planning.recompute import Changed, publish_stage, recompute
from brinebook.records.derived import StagePlan
from brinebook.records.edited import ClosedSpan, FeedingRules, PlanGoals, Portion, RiderPalate, Stage, Supply
from planning.fakes import DAY_MS, FIRST_START_MS, HOUR_MS, TEAM, Facts, stages_of, team

EVERYONE = frozenset({"r1", "r2"})
START = Changed(subject_ids=EVERYONE, edited_types=frozenset({"stage"}))
ALL = {f"{rider}:{stage}" for rider in ("r1", "r2") for stage in ("s1", "s2", "s3")}


@pytest.fixture(scope="module")
def computed_race():
    repository, _ = team(n_stages=3, n_riders=2)
    powder = Supply(id="powder", name="Powder", version=1)
    standard = repository.edited_records["Drink", "standard"]
    for record in (powder, msgspec.structs.replace(standard, recipe=[Portion(supply_id="powder", g_per_l=80.0)])):
        repository.put_edited(TEAM, record)
    recompute(repository, TEAM, START)
    return repository


@pytest.fixture
def race(computed_race):
    repository = computed_race.copy()
    return repository, Facts(repository), stages_of(repository)


def _plan(repository, rider="r1", stage="s1"):
    return repository.record(f"stage_plan:{rider}:{stage}", StagePlan)


def _new_plans(repository, before):
    return {id_.removeprefix("stage_plan:") for id_, one in repository.heads.items()
            if id_.startswith("stage_plan:") and before.get(id_) != one.sha}


def _edited(repository, stage, kind="stage", **changed):
    repository.put_edited(TEAM, msgspec.structs.replace(stage, version=stage.version + 1, **changed))
    return Changed(edited_types=frozenset({kind}))


def _forecast(repository, facts, stages):
    warmer = stages["s2"].forecast
    rows = [msgspec.structs.replace(row, air_temperature_c=row.air_temperature_c + 4.0) for row in warmer]
    return _edited(repository, stages["s2"], forecast=rows)


def _test(repository, facts, stages):
    facts.sample("r2", "left", 70.0, at_ms=FIRST_START_MS - 2 * DAY_MS)
    facts.sample("r2", "right", 71.0, at_ms=FIRST_START_MS - 2 * DAY_MS)
    return Changed(frozenset({"r2"}), frozenset({"sweat_sample"}))


def _settlement(repository, facts, stages):
    facts.ride_a_stage("r1", stages["s1"], before_kg=68.0, after_kg=66.8, agreed_l=2.9)
    return Changed(frozenset({"r1"}), frozenset({"weighed", "agreed"}), frozenset({"s1"}))


def _role(repository, facts, stages):
    return _edited(repository, stages["s3"], race_role_by_rider={"r2": "breakaway"})


def _rules(repository, facts, stages):
    return _edited(repository, stages["s1"], feeding=FeedingRules(closed=[ClosedSpan(70.0, 90.0)]))


def _opened(repository, facts, stages):
    return _edited(repository, stages["s2"], opened_drinks_by_rider={"r1": ["salty"]})


def _mix_check(repository, facts, stages):
    facts.add("mix_check", TEAM, {"drink_id": "standard", "sodium_mg_per_l": 500.0}, at_ms=FIRST_START_MS - DAY_MS)
    return Changed(frozenset({TEAM}), frozenset({"mix_check"}))


def _stock(repository, facts, stages):
    facts.add("stock_counted", TEAM, {"item_id": "powder", "n_amount": 100.0}, at_ms=FIRST_START_MS - DAY_MS)
    return Changed(frozenset({TEAM}), frozenset({"stock_counted"}))


def _goals(repository, facts, stages):
    repository.put_edited(TEAM, PlanGoals(id="goals", water_factor=3.0, version=1))
    return Changed(frozenset({"goals"}), edited_types=frozenset({"plan_goals"}))


def _symptom(repository, facts, stages):
    facts.add("symptom", "r1", {"symptom": "vomiting"}, at_ms=FIRST_START_MS - HOUR_MS, stage_id="s1")
    return Changed(frozenset({"r1"}), frozenset({"symptom"}), frozenset({"s1"}))


def _palate(repository, facts, stages):
    repository.put_edited(TEAM, RiderPalate(id="r2", cannot=["rice"], version=1))
    return Changed(frozenset({"r2"}), edited_types=frozenset({"rider_palate"}))


def _name(repository, facts, stages):
    return _edited(repository, stages["s1"], note="Start moved to the other side of the square")


@pytest.mark.parametrize(("happens", "stale"), [
    (_forecast, {"r1:s2", "r2:s2"}), (_test, {"r2:s1", "r2:s2", "r2:s3"}), (_settlement, {"r1:s2", "r1:s3"}),
    (_role, {"r2:s3"}), (_rules, {"r1:s1", "r2:s1"}), (_opened, {"r1:s2"}), (_mix_check, ALL), (_stock, ALL),
    (_symptom, {"r1:s1"}), (_palate, {"r2:s1", "r2:s2", "r2:s3"}), (_goals, ALL), (_name, set()),
], ids=lambda value: value.__name__.strip("_") if callable(value) else "")
def test_a_new_fact_makes_exactly_the_stale_plans_again(race, happens, stale):
    repository, facts, stages = race
    before = repository.shas()

    recompute(repository, TEAM, happens(repository, facts, stages))

    assert _new_plans(repository, before) == stale


@pytest.mark.parametrize(("happens", "reason"), [
    (_forecast, "road_or_weather"), (_role, "role"), (_rules, "rules"), (_opened, "opened_drinks"),
    (_mix_check, "mix_checked"), (_stock, "stock"), (_symptom, "limits_lowered"), (_palate, "foods"), (_goals, "goals"),
], ids=lambda value: value.__name__.strip("_") if callable(value) else value)
def test_a_published_plan_keeps_its_figures_and_says_why_the_next_differs(race, happens, reason):
    repository, facts, stages = race
    for stage_id in stages:
        publish_stage(repository, TEAM, stage_id)
    kept = {id_: repository.record(id_, StagePlan).steps for id_ in repository.heads if id_.startswith("stage_plan:")}
    before = repository.shas()

    recompute(repository, TEAM, happens(repository, facts, stages))

    moved = [repository.record(f"stage_plan:{key}", StagePlan) for key in _new_plans(repository, before)]
    assert {plan.id: plan.steps for plan in moved}.items() <= kept.items()
    assert all("plan_superseded" in [flag.code for flag in plan.flags] for plan in moved)
    assert moved
    assert all(reason in [change.code for change in plan.changed] for plan in moved)


def test_a_plan_published_again_says_what_moved_since_the_one_before(race):
    repository, facts, stages = race
    publish_stage(repository, TEAM, "s2")
    was = _plan(repository, stage="s2")
    recompute(repository, TEAM, _forecast(repository, facts, stages))

    publish_stage(repository, TEAM, "s2")

    plan = _plan(repository, stage="s2")
    water = next(change for change in plan.changed if change.code == "plan_water")
    assert (plan.plan_version, plan.supersedes) == (2, 1)
    assert (water.before, water.after) == (was.water_l, plan.water_l)
    assert "plan_superseded" not in [flag.code for flag in plan.flags]


def test_a_symptom_is_never_named_on_a_plan(race):
    repository, facts, stages = race

    recompute(repository, TEAM, _symptom(repository, facts, stages))

    body = bytes(repository.heads["stage_plan:r1:s1"].body).decode()
    assert "vomiting" not in body
    assert facts.repository.facts[-1].id not in body


def test_a_race_replanned_without_news_writes_nothing(race):
    repository, _, _ = race
    n_writes = repository.n_writes

    recompute(repository, TEAM, START)

    assert repository.n_writes == n_writes
    assert isinstance(repository.edited_records["Stage", "s1"], Stage)
