"""Facts in, derived records out: the same bytes whatever the order, and only what a change has touched."""

import pytest
from brinebook.planning.recompute import Changed, plan_stage, publish_stage, recompute
from brinebook.planning.stale import TEAM_TYPES
from brinebook.records.derived import (
    EveningDrink,
    ForecastAudit,
    RiderProfile,
    Settlement,
    StageForecast,
    StagePlan,
)
from brinebook.storage.errors import NotFound
from planning.fakes import DAY_MS, FIRST_START_MS, TEAM, Facts, MemoryRepository, stages_of, team

EVERYONE = frozenset({"r1", "r2"})
START = Changed(subject_ids=EVERYONE, edited_types=frozenset({"stage"}))


def settled(rider_id="r1", stage_id="s1"):
    return Changed(frozenset({rider_id}), frozenset({"agreed", "weighed"}), frozenset({stage_id}))


@pytest.fixture(scope="module")
def computed_race():
    repository, _ = team(n_stages=6, n_riders=2, rest_after=2)
    recompute(repository, TEAM, START)
    return repository


@pytest.fixture
def race(computed_race):
    repository = computed_race.copy()
    return repository, Facts(repository), stages_of(repository)


@pytest.fixture
def after_stage_one(race):
    repository, facts, stages = race
    before = dict(repository.heads)
    facts.ride_a_stage("r1", stages["s1"], before_kg=68.0, after_kg=66.8, agreed_l=2.9)
    recompute(repository, TEAM, settled())
    return repository, facts, stages, before


def test_before_the_race_every_stage_has_a_forecast_and_the_next_three_have_plans(race):
    repository, _, _ = race

    assert sorted(id_ for id_ in repository.heads if id_.startswith("stage_forecast:r1:")) == [
        f"stage_forecast:r1:s{number}" for number in range(1, 7)
    ]
    assert sorted(id_ for id_ in repository.heads if id_.startswith("stage_plan:r1:")) == [
        "stage_plan:r1:s1", "stage_plan:r1:s2", "stage_plan:r1:s3",
    ]
    assert "stage_forecast:r1:rest" not in repository.heads


def test_every_document_belongs_to_its_rider_or_to_the_team(race):
    repository, _, _ = race
    of_riders = [one for one in repository.heads.values() if one.type not in TEAM_TYPES]

    assert {one.subject_id for one in of_riders} == EVERYONE
    assert all(one.id.split(":")[1] == one.subject_id for one in of_riders)
    assert {one.subject_id for one in repository.heads.values() if one.type in TEAM_TYPES} == {TEAM}
    assert all(one.id.split(":")[0] == one.type for one in repository.heads.values())


def test_computing_twice_writes_once(after_stage_one):
    repository, _, _, _ = after_stage_one
    n_writes = repository.n_writes

    recompute(repository, TEAM, settled())
    recompute(repository, TEAM, START)

    assert repository.n_writes == n_writes


def test_records_thrown_away_and_computed_again_are_the_same_to_the_byte(after_stage_one):
    repository, _, _, _ = after_stage_one
    kept = repository.shas()
    shuffled = MemoryRepository()
    shuffled.edited_records = dict(reversed(list(repository.edited_records.items())))
    shuffled.facts = [*repository.facts[::-2], *repository.facts[-2::-2], *repository.facts[:3]]

    recompute(shuffled, TEAM, Changed(subject_ids=EVERYONE, edited_types=frozenset({"stage"})))

    assert shuffled.shas() == kept


def test_settling_makes_settlement_evening_audit_profile_and_the_plans_that_are_left(after_stage_one):
    repository, _, _, before = after_stage_one

    settlement = repository.record("settlement:r1:s1", Settlement)
    evening = repository.record("evening_drink:r1:s1", EveningDrink)
    audit = repository.record("forecast_audit:team", ForecastAudit)
    profile = repository.record("profile:r1", RiderProfile)

    assert (settlement.state, settlement.agreed_drunk_l, settlement.is_used_for_learning) == ("settled", 2.9, True)
    assert settlement.factor_before == 1.0
    assert profile.sweat_factor_median == pytest.approx(settlement.factor_after)
    assert profile.n_weighed == 1
    assert evening.deficit_l == settlement.deficit_l
    assert (audit.n_settled, audit.rows[0].settled_l) == (1, settlement.sweat_loss_l)
    assert [(one.rider_id, one.n_settled) for one in audit.by_rider] == [("r1", 1)]
    assert audit.mean_rank_frac == audit.by_rider[0].mean_rank_frac == settlement.forecast_rank_frac
    assert repository.heads["stage_plan:r1:s2"].sha != before["stage_plan:r1:s2"].sha
    assert "stage_plan:r1:s4" in repository.heads


def test_the_audit_grades_the_forecast_made_before_the_stage(after_stage_one):
    repository, _, _, before = after_stage_one
    was = repository.record("stage_forecast:r1:s1", StageForecast)

    settlement = repository.record("settlement:r1:s1", Settlement)

    assert repository.heads["stage_forecast:r1:s1"].sha == before["stage_forecast:r1:s1"].sha
    assert (settlement.predicted_q10_l, settlement.predicted_q50_l, settlement.predicted_q90_l) == (
        was.sweat_q10_l, was.sweat_q50_l, was.sweat_q90_l
    )


def test_a_later_settlement_does_not_move_an_earlier_one(after_stage_one):
    repository, facts, stages, _ = after_stage_one
    first = repository.heads["settlement:r1:s1"].sha

    facts.ride_a_stage("r1", stages["s2"], before_kg=67.9, after_kg=66.5, agreed_l=2.9)
    recompute(repository, TEAM, settled(stage_id="s2"))

    assert repository.heads["settlement:r1:s1"].sha == first
    assert repository.record("settlement:r1:s2", Settlement).factor_before == pytest.approx(
        repository.record("settlement:r1:s1", Settlement).factor_after
    )


def test_the_next_plan_says_what_the_settled_stage_changed(after_stage_one):
    repository, _, _, _ = after_stage_one

    plan = repository.record("stage_plan:r1:s2", StagePlan)
    reasons = {reason.code: reason for reason in plan.changed}

    settlement = repository.record("settlement:r1:s1", Settlement)
    evening = repository.record("evening_drink:r1:s1", EveningDrink)
    assert set(reasons) == {"sweat_factor", "deficit_carried", "forecast"}
    assert (reasons["sweat_factor"].before, reasons["sweat_factor"].after) == (
        settlement.factor_before, pytest.approx(settlement.factor_after)
    )
    assert reasons["deficit_carried"].after == evening.carried_over_l
    assert reasons["forecast"].after < reasons["forecast"].before
    assert [reason.code for reason in repository.record("stage_plan:r2:s2", StagePlan).changed] == ["first_plan"]


def test_one_riders_scales_leave_another_riders_next_plans_alone(after_stage_one):
    repository, _, _, before = after_stage_one

    untouched = [key for key in before if key.startswith(("stage_plan:r2", "settlement:r2"))]

    assert untouched
    assert {key: repository.heads[key].sha for key in untouched} == {key: before[key].sha for key in untouched}


def test_the_teams_offset_reaches_a_rider_without_weighings_of_his_own(race):
    repository, facts, stages = race
    for number in range(1, 6):
        facts.ride_a_stage("r1", stages[f"s{number}"], before_kg=68.0, after_kg=65.4, agreed_l=2.9)

    recompute(repository, TEAM, settled(stage_id="s5"))
    recompute(repository, TEAM, START)

    assert repository.record("profile:r2", RiderProfile).team_offset_log > 0.0
    assert repository.record("profile:r2", RiderProfile).n_weighed == 0


def test_a_bottle_tap_on_an_open_stage_touches_its_settlement_alone(race):
    repository, facts, stages = race
    before = repository.shas()
    facts.add("drank", "r1", {"volume_l": 0.2, "how": "level"}, at_ms=stages["s1"].start_at_ms, stage_id="s1")

    recompute(repository, TEAM, Changed(frozenset({"r1"}), frozenset({"drank"}), frozenset({"s1"})))

    changed = {key for key, sha in repository.shas().items() if before.get(key) != sha}
    assert changed == {"settlement:r1:s1", "settlement_summary:r1:s1"}
    assert repository.record("settlement:r1:s1", Settlement).state == "open"


def test_taking_every_fact_back_takes_the_settlement_back(race):
    repository, facts, stages = race
    tap = facts.add("drank", "r1", {"volume_l": 0.2, "how": "level"}, at_ms=stages["s1"].start_at_ms, stage_id="s1")
    recompute(repository, TEAM, Changed(frozenset({"r1"}), frozenset({"drank"}), frozenset({"s1"})))

    facts.add("void", "r1", {}, at_ms=stages["s1"].start_at_ms + 1, ref=tap)
    recompute(repository, TEAM, Changed(frozenset({"r1"}), frozenset({"void"})))

    assert not [key for key in repository.heads if key.startswith("settlement")]


def test_reopening_takes_back_what_was_learnt(after_stage_one):
    repository, facts, stages, before = after_stage_one

    facts.add("reopened", "r1", {"reason": "wrong scale"}, at_ms=stages["s1"].start_at_ms + DAY_MS, stage_id="s1")
    recompute(repository, TEAM, Changed(frozenset({"r1"}), frozenset({"reopened"}), frozenset({"s1"})))

    assert repository.record("settlement:r1:s1", Settlement).state == "proposed"
    assert repository.record("profile:r1", RiderProfile).n_weighed == 0
    assert "evening_drink:r1:s1" not in repository.heads
    assert "forecast_audit:team" not in repository.heads
    assert repository.heads["stage_forecast:r1:s3"].sha == before["stage_forecast:r1:s3"].sha


def test_a_weighed_ride_teaches_the_factor_before_the_race(race):
    repository, facts, _ = race
    body = {
        "mass_before_kg": 68.0, "mass_after_kg": 66.9, "fluid_drunk_l": 1.0, "duration_h": 1.5, "power_w": 220.0,
        "air_temperature_c": 24.0, "relative_humidity_frac": 0.5, "air_speed_m_per_s": 9.0, "solar_w_per_m2": 500.0,
    }
    facts.add("weighed_ride", "r1", body, at_ms=FIRST_START_MS - 10 * DAY_MS)

    recompute(repository, TEAM, Changed(frozenset({"r1"}), frozenset({"weighed_ride"})))

    profile = repository.record("profile:r1", RiderProfile)
    assert (profile.n_weighed, profile.factor_evidence) == (1, "weighed")
    assert profile.sweat_factor_median > 1.0
    assert profile.sweat_factor_log_sd < 0.25


def test_a_note_or_an_unknown_kind_computes_nothing(race):
    repository, _, _ = race
    repository.events_for_team = None

    recompute(repository, TEAM, Changed(frozenset({"r1"}), frozenset({"note", "weather_mood"})))

    assert repository.heads


def test_a_rider_without_a_body_has_no_records(race):
    repository, _, _ = race
    del repository.edited_records["RiderBody", "r2"]
    repository.heads.clear()

    recompute(repository, TEAM, START)

    assert {one.subject_id for one in repository.heads.values() if one.type not in TEAM_TYPES} == {"r1"}


def test_an_empty_team_computes_nothing():
    repository = MemoryRepository()

    recompute(repository, TEAM, START)

    assert repository.heads == {}


def test_a_far_stage_is_planned_when_asked(race):
    repository, _, _ = race

    plan_stage(repository, TEAM, "s6")

    assert repository.record("stage_plan:r2:s6", StagePlan).steps


def test_an_unknown_stage_is_refused_and_a_rest_day_has_no_plans(race):
    repository, _, _ = race

    with pytest.raises(NotFound):
        plan_stage(repository, TEAM, "s99")
    assert publish_stage(repository, TEAM, "rest") == []


def test_facts_writer_counts_up():
    facts = Facts(MemoryRepository())

    assert facts.add("note", "r1", {"text": "a"}, at_ms=1) < facts.add("note", "r1", {"text": "b"}, at_ms=2)


def test_calm_settled_stages_narrow_the_next_forecasts_and_the_forecast_says_so(race):
    repository, facts, stages = race
    before = repository.record("stage_forecast:r1:s6", StageForecast)
    for number in range(1, 6):
        for rider_id in ("r1", "r2"):
            facts.ride_a_stage(rider_id, stages[f"s{number}"], before_kg=68.0, after_kg=66.4, agreed_l=2.9)

    recompute(repository, TEAM, settled(stage_id="s5"))
    recompute(repository, TEAM, START)

    after = repository.record("stage_forecast:r1:s6", StageForecast)
    why = {reason.code: reason for reason in after.reasons}["stage_spread"]
    earlier = {reason.code: reason for reason in before.reasons}["stage_spread"]
    assert (why.evidence, earlier.evidence) == ("weighed", "default")
    assert why.after < earlier.after
    assert after.sweat_q90_l / after.sweat_q10_l < before.sweat_q90_l / before.sweat_q10_l
