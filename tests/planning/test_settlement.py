"""Fluids against scales: litres, evidence, the lane's word, and what must be looked at."""

import msgspec
import pytest
from brinebook.planning.recompute import Changed, recompute
from brinebook.records.derived import EveningDrink, RiderProfile, Settlement
from planning.fakes import DAY_MS, HOUR_MS, TEAM, Facts, stages_of, team

KINDS = frozenset({"weighed", "agreed"})


@pytest.fixture(scope="module")
def computed_race():
    repository, _ = team(n_stages=3, n_riders=1)
    recompute(repository, TEAM, Changed(frozenset({"r1"}), edited_types=frozenset({"stage"})))
    return repository


@pytest.fixture
def race(computed_race):
    repository = computed_race.copy()
    return repository, Facts(repository), stages_of(repository)["s1"]


def _settled(repository, stage_id="s1"):
    recompute(repository, TEAM, Changed(frozenset({"r1"}), KINDS, frozenset({stage_id})))
    return repository.record(f"settlement:r1:{stage_id}", Settlement)


def _flags(record):
    return {flag.code: flag for flag in record.flags}


def _weigh(facts, stage, *, before_kg=68.0, after_kg=66.8):
    facts.add("weighed", "r1", {"moment": "before", "mass_kg": before_kg}, at_ms=stage.start_at_ms - HOUR_MS,
              stage_id=stage.id)
    facts.add("weighed", "r1", {"moment": "after", "mass_kg": after_kg}, at_ms=stage.start_at_ms + 5 * HOUR_MS,
              stage_id=stage.id)


def _hand_up(facts, stage, n_bottles, volume_l=0.5, drink_id="standard"):
    for index in range(n_bottles):
        facts.add("handed_up", "r1", {"volume_l": volume_l, "drink_id": drink_id},
                  at_ms=stage.start_at_ms + index * 1000, stage_id=stage.id)


def test_drunk_is_handed_up_less_what_came_back_was_poured_or_lost(race):
    repository, facts, stage = race
    _hand_up(facts, stage, 6)
    for kind, body in (("came_back", {"left_l": 0.25, "how": "weighed"}), ("poured", {"volume_l": 0.4}),
                       ("lost", {"volume_l": 0.5})):
        facts.add(kind, "r1", body, at_ms=stage.start_at_ms + HOUR_MS, stage_id="s1")

    settlement = _settled(repository)

    assert (settlement.handed_up_l, settlement.came_back_l, settlement.poured_l, settlement.lost_l) == (
        3.0, 0.25, 0.4, 0.5
    )
    assert settlement.derived_drunk_l == pytest.approx(1.85)
    assert settlement.proposed_drunk_l == pytest.approx(1.85)
    assert settlement.state == "open"


def test_two_weighings_make_a_proposal_and_an_agreed_figure_settles_it(race):
    repository, facts, stage = race
    _hand_up(facts, stage, 6)
    _weigh(facts, stage)

    proposed = _settled(repository)
    facts.agree("r1", stage, 2.7)
    settled = _settled(repository)

    assert (proposed.state, proposed.is_used_for_learning) == ("proposed", False)
    assert (settled.state, settled.agreed_drunk_l, settled.agreed_by) == ("settled", 2.7, "member-1")
    assert settled.is_used_for_learning
    assert settled.sweat_loss_l == pytest.approx(proposed.sweat_loss_l - 0.3)


def test_an_agreed_figure_without_scales_is_settled_but_teaches_nothing(race):
    repository, facts, stage = race
    _hand_up(facts, stage, 5)
    facts.agree("r1", stage, 2.5)

    settlement = _settled(repository)

    assert settlement.state == "settled"
    assert (settlement.sweat_loss_l, settlement.is_used_for_learning) == (None, False)
    assert "evening_drink:r1:s1" not in repository.heads
    assert repository.record("profile:r1", RiderProfile).n_weighed == 0


def test_water_is_conserved_between_scale_bottles_and_sweat(race):
    repository, facts, stage = race
    facts.ride_a_stage("r1", stage, before_kg=68.0, after_kg=66.8, agreed_l=2.9)

    settlement = _settled(repository)

    assert settlement.deficit_l == pytest.approx(settlement.sweat_loss_l + 0.1 - 2.9, abs=1e-9)
    assert settlement.body_mass_change_frac == pytest.approx(-1.2 / 68.0)
    assert (settlement.food_kg, settlement.urine_l) == (0.3, 0.1)


def test_noted_food_counts_when_the_scale_sheet_has_none(race):
    repository, facts, stage = race
    _hand_up(facts, stage, 4)
    _weigh(facts, stage)
    facts.add("ate", "r1", {"food_id": "rice", "n_units": 4}, at_ms=stage.start_at_ms, stage_id="s1")

    settlement = _settled(repository)

    assert settlement.food_kg == pytest.approx(0.2)
    assert settlement.sodium_drunk_mg == pytest.approx(2.0 * 800.0 + 4 * 150.0)


def test_a_gain_of_mass_goes_to_the_team_physician(race):
    repository, facts, stage = race
    _hand_up(facts, stage, 12)
    _weigh(facts, stage, after_kg=68.6)

    flag = _flags(_settled(repository))["drank_above_losses"]

    assert (flag.severity, flag.detail) == ("medical", "tell_team_physician")
    assert flag.value == pytest.approx(0.6 / 68.0)


def test_litres_beyond_the_wet_kerb_go_to_the_physician_even_without_a_scale(race):
    repository, facts, stage = race
    _hand_up(facts, stage, 14)

    settlement = _settled(repository)

    assert settlement.lane == "wet"
    assert _flags(settlement)["drank_above_losses"].severity == "medical"


def test_a_stage_in_the_lane_raises_no_flag(race):
    repository, facts, stage = race
    facts.ride_a_stage("r1", stage, before_kg=68.0, after_kg=66.9, agreed_l=2.9)

    settlement = _settled(repository)

    assert (settlement.lane, settlement.flags) == ("in_lane", [])


def test_a_large_deficit_is_the_dry_side(race):
    repository, facts, stage = race
    facts.ride_a_stage("r1", stage, before_kg=68.0, after_kg=64.8, agreed_l=2.0)

    assert _settled(repository).lane == "dry"


def test_masses_alone_leave_nothing_noted(race):
    repository, facts, stage = race
    _weigh(facts, stage)

    assert _settled(repository).lane == "nothing_noted"


def test_an_impossible_change_of_mass_asks_to_weigh_again_and_teaches_nothing(race):
    repository, facts, stage = race
    facts.ride_a_stage("r1", stage, before_kg=68.0, after_kg=60.0, agreed_l=2.9)

    settlement = _settled(repository)

    assert "weigh_again" in _flags(settlement)
    assert settlement.deficit_l is None
    assert not settlement.is_used_for_learning
    assert "forecast_audit:team" not in repository.heads


def test_a_second_weighing_replaces_the_first(race):
    repository, facts, stage = race
    facts.ride_a_stage("r1", stage, before_kg=68.0, after_kg=60.0, agreed_l=2.9)
    facts.add("weighed", "r1", {"moment": "after", "mass_kg": 66.8}, at_ms=stage.start_at_ms + 6 * HOUR_MS,
              stage_id="s1")

    settlement = _settled(repository)

    assert settlement.mass_after_kg == 66.8
    assert "weigh_again" not in _flags(settlement)


def test_bottles_nobody_accounts_for_are_said_in_litres(race):
    repository, facts, stage = race
    _hand_up(facts, stage, 6)
    facts.add("drank", "r1", {"volume_l": 0.6, "how": "level"}, at_ms=stage.start_at_ms, stage_id="s1")

    settlement = _settled(repository)

    assert settlement.unexplained_l == pytest.approx(2.4)
    assert _flags(settlement)["unexplained_litres"].value == pytest.approx(2.4)


def test_a_loss_no_rider_has_is_doubted_before_the_rider():
    repository, facts = team(n_stages=9, n_riders=1)
    stages = stages_of(repository)
    for number in range(1, 8):
        facts.ride_a_stage("r1", stages[f"s{number}"], before_kg=68.0, after_kg=66.8, agreed_l=2.9)
    facts.ride_a_stage("r1", stages["s8"], before_kg=68.0, after_kg=64.0, n_bottles=10, agreed_l=4.9)

    settlement = _settled(repository, "s8")

    assert "suspect_log" in _flags(settlement)
    assert not settlement.is_used_for_learning
    assert settlement.factor_after == pytest.approx(settlement.factor_before, rel=0.02)
    assert "suspect_log" in _flags(repository.record("profile:r1", RiderProfile))


def test_the_better_evidence_is_named(race):
    repository, facts, stage = race
    facts.add("drank", "r1", {"volume_l": 1.0, "how": "recall"}, at_ms=stage.start_at_ms, stage_id="s1")
    recalled = _settled(repository)

    _hand_up(facts, stage, 3)
    facts.add("came_back", "r1", {"left_l": 0.4, "how": "weighed"}, at_ms=stage.start_at_ms, stage_id="s1")
    weighed = _settled(repository)

    assert (recalled.drunk_evidence, weighed.drunk_evidence) == ("recalled", "weighed")
    assert {reason.code: reason.evidence for reason in weighed.reasons}["noted"] == "recalled"


def test_an_entry_the_rider_contests_does_not_count(race):
    repository, facts, stage = race
    _hand_up(facts, stage, 2)
    wrong = facts.add("handed_up", "r1", {"volume_l": 0.5, "drink_id": "standard"}, at_ms=stage.start_at_ms,
                      stage_id="s1")
    facts.add("contested", "r1", {}, at_ms=stage.start_at_ms + 1, stage_id="s1", ref=wrong)

    assert _settled(repository).handed_up_l == 1.0


def test_an_amended_bottle_counts_as_amended_and_an_impossible_amend_is_passed_over(race):
    repository, facts, stage = race
    bottle = facts.add("handed_up", "r1", {"volume_l": 0.5, "drink_id": "standard"}, at_ms=stage.start_at_ms,
                       stage_id="s1")
    facts.add("amend", "r1", {"set": {"volume_l": 0.75}}, at_ms=stage.start_at_ms + 1, ref=bottle)
    amended = _settled(repository)

    facts.add("amend", "r1", {"set": {"volume_l": -3}}, at_ms=stage.start_at_ms + 2, ref=bottle)

    assert amended.handed_up_l == 0.75
    assert _settled(repository).handed_up_l == 0.5


def test_the_summary_holds_no_kilogram_and_nothing_to_work_one_out_from(race):
    repository, facts, stage = race
    facts.ride_a_stage("r1", stage, before_kg=68.0, after_kg=68.9, agreed_l=4.4)
    settlement = _settled(repository)

    summary = repository.record("settlement_summary:r1:s1", Settlement)
    text = bytes(repository.heads["settlement_summary:r1:s1"].body).decode()

    assert (settlement.body_mass_change_frac, summary.body_mass_change_frac) == (pytest.approx(0.9 / 68.0), 0.01)
    assert (summary.predicted_q10_l, summary.predicted_q50_l, summary.predicted_q90_l) == (None, None, None)
    assert (summary.lane, summary.agreed_drunk_l) == (settlement.lane, 4.4)
    assert "mass_before" not in text
    assert "mass_after" not in text
    assert "mass_kg" not in text
    assert (summary.food_kg, summary.basis.input_ids) == (0.0, [settlement.id])
    assert "sweat_loss" not in text
    assert "deficit_l" not in text
    assert all(flag.value is None for flag in summary.flags)


def test_the_evening_owes_what_the_stage_left(race):
    repository, facts, stage = race
    facts.ride_a_stage("r1", stage, before_kg=68.0, after_kg=66.0, agreed_l=2.9)
    settlement = _settled(repository)

    evening = repository.record("evening_drink:r1:s1", EveningDrink)

    assert evening.deficit_l == settlement.deficit_l
    assert evening.sodium_owed_mg == pytest.approx(settlement.sodium_lost_mg - settlement.sodium_drunk_mg)
    assert evening.deficit_l <= evening.drink_l <= 1.5 * evening.deficit_l
    assert 0.0 < evening.carried_over_l < evening.deficit_l
    assert 15.0 < evening.hours_to_next_start_h < 24.0


def test_a_rest_day_gives_the_evening_more_hours():
    repository, facts = team(n_stages=2, n_riders=1, rest_after=1)
    facts.ride_a_stage("r1", stages_of(repository)["s1"], before_kg=68.0, after_kg=66.0, agreed_l=2.9)

    _settled(repository)

    assert repository.record("evening_drink:r1:s1", EveningDrink).hours_to_next_start_h > 40.0


def test_facts_of_another_stage_stay_there(race):
    repository, facts, stage = race
    _hand_up(facts, stage, 2)
    _hand_up(facts, msgspec.structs.replace(stage, id="s2"), 3)

    assert _settled(repository).handed_up_l == 1.0
    assert stage.start_at_ms % DAY_MS > 0


def _twice(facts, stage, kind, body, *, apart_ms=60_000):
    """Two people note one thing."""
    return [
        facts.add(kind, "r1", body, at_ms=stage.start_at_ms + HOUR_MS + n * apart_ms, stage_id="s1", by=by)
        for n, by in enumerate(("m1", "m2"))
    ]


@pytest.mark.parametrize(("kind", "body", "low_l", "high_l"), [
    ("handed_up", {"volume_l": 0.5, "drink_id": "standard"}, 2.5, 3.0),
    ("poured", {"volume_l": 0.4}, 1.2, 1.6),
    ("lost", {"volume_l": 0.5}, 1.0, 1.5),
])
def test_what_may_be_noted_twice_makes_the_litres_a_range(race, kind, body, low_l, high_l):
    repository, facts, stage = race
    # Four bottles far from each other, so that none of them is anybody's twin.
    for place in range(4):
        facts.add("handed_up", "r1", {"volume_l": 0.5, "drink_id": "standard"},
                  at_ms=stage.start_at_ms + (place + 2) * HOUR_MS, stage_id="s1")
    _twice(facts, stage, kind, body)

    settlement = _settled(repository)

    assert (settlement.drunk_low_l, settlement.drunk_high_l) == (pytest.approx(low_l), pytest.approx(high_l))
    assert settlement.proposed_drunk_l == pytest.approx((low_l + high_l) / 2)
    assert settlement.drunk_sd_l >= (high_l - low_l) / 2 / 3**0.5
    flag = _flags(settlement)["maybe_twice"]
    assert (flag.value, flag.limit) == (pytest.approx(low_l), pytest.approx(high_l))


@pytest.mark.parametrize(("word", "drunk_l"), [("link", 0.5), ("unlink", 1.0)])
def test_a_word_on_the_pair_ends_the_range_and_taking_it_back_opens_it_again(race, word, drunk_l):
    repository, facts, stage = race
    one, other = _twice(facts, stage, "handed_up", {"volume_l": 0.5, "drink_id": "standard"})
    body = {"a": one, "b": other, "keep": one}
    said = facts.add(word, "r1", body, at_ms=stage.start_at_ms + 2 * HOUR_MS, stage_id="s1")
    settled = _settled(repository)
    facts.add("void", "r1", {}, at_ms=stage.start_at_ms + 3 * HOUR_MS, stage_id="s1", ref=said)
    again = _settled(repository)

    assert (settled.proposed_drunk_l, settled.drunk_low_l, "maybe_twice" in _flags(settled)) == (drunk_l, None, False)
    assert (again.drunk_low_l, again.drunk_high_l, again.proposed_drunk_l) == (0.5, 1.0, 0.75)


def test_an_agreed_figure_closes_the_question(race):
    repository, facts, stage = race
    _twice(facts, stage, "drank", {"volume_l": 0.25, "how": "count"})
    facts.add("agreed", "r1", {"drunk_l": 0.25, "proposed_l": 0.375}, at_ms=stage.start_at_ms + 2 * HOUR_MS,
              stage_id="s1")

    assert "maybe_twice" not in _flags(_settled(repository))
