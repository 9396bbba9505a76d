"""The small parts: lane word, sodium from samples, the table of what is stale, the basis."""

import pytest
from brinebook.engine.sources import all_sources
from brinebook.planning.basis import basis_of
from brinebook.planning.books import open_books
from brinebook.planning.lane import dry_limit_l, kerbs_l, lane_word
from brinebook.planning.recompute import MAKERS, Changed, recompute
from brinebook.planning.sodium import sodium_known
from brinebook.planning.stale import ALL_TYPES, STALE_BY_EDIT, STALE_BY_KIND, TEAM_TYPES, stale
from brinebook.records.derived import RiderProfile, StageForecast, StagePlan
from brinebook.records.facts import BODY_BY_KIND, SweatSample
from brinebook.storage.mapping import TYPE_NAMES
from planning.fakes import DAY_MS, FIRST_START_MS, TEAM, team

RACE_MS = FIRST_START_MS


def _known(repository, at_ms=RACE_MS):
    return sodium_known(open_books(repository, TEAM).of_rider("r1", SweatSample), at_ms=at_ms)


@pytest.mark.parametrize(("mean", "sd", "word"), [
    (3.0, 0.05, "in_lane"), (1.0, 0.05, "dry"), (4.5, 0.05, "wet"), (3.0, 2.0, "cant_tell"), (2.05, 0.3, "in_lane"),
])
def test_the_lane_word_follows_the_dots(mean, sd, word):
    assert lane_word(mean, sd=sd, low=2.0, high=4.0) == word


def test_no_spread_is_still_a_word():
    assert lane_word(3.0, sd=0.0, low=2.0, high=4.0) == "in_lane"


def test_the_kerbs_stand_at_the_deficit_limit_and_at_the_smaller_loss():
    assert kerbs_l((3.5, 4.2), limit_l=1.4) == (pytest.approx(2.8), 3.5)


def test_kerbs_never_cross_and_never_ask_for_less_than_nothing():
    assert kerbs_l((2.0, 4.0), limit_l=1.0) == (2.0, 2.0)
    assert kerbs_l((0.8, 1.0), limit_l=1.4) == (0.0, 0.8)


def test_the_cool_day_allows_three_percent():
    assert dry_limit_l(70.0, air_temperature_max_c=27.0) == pytest.approx(1.4)
    assert dry_limit_l(70.0, air_temperature_max_c=12.0) == pytest.approx(2.1)


def test_every_kind_and_edit_has_its_line_in_the_table():
    assert set(STALE_BY_KIND) == set(BODY_BY_KIND)
    assert set(STALE_BY_EDIT) == set(TYPE_NAMES.values())
    assert set(MAKERS) | TEAM_TYPES == ALL_TYPES


def test_an_unknown_kind_makes_nothing_stale():
    assert stale(frozenset({"weather_mood"}), frozenset()) == stale(frozenset(), frozenset())
    assert not stale(frozenset({"note", "sheet_printed"}), frozenset({"member"})).named


def test_a_personal_fact_leaves_the_others_alone_and_a_shared_one_does_not():
    assert not stale(frozenset({"sweat_sample"}), frozenset()).others
    assert "stage_plan" in stale(frozenset({"mix_check"}), frozenset()).others
    assert "settlement" not in stale(frozenset({"agreed"}), frozenset()).others


def test_the_basis_has_each_input_once_in_one_order():
    assert basis_of("b", "a", "b").input_ids == ["a", "b"]
    assert basis_of("b", "a") == basis_of("a", "b")


def test_two_arms_of_a_day_are_one_test():
    repository, facts = team(n_stages=1, n_riders=1)
    facts.sample("r1", "left", 58.0, at_ms=RACE_MS - DAY_MS)
    facts.sample("r1", "right", 64.0, at_ms=RACE_MS - DAY_MS + 60_000)

    known = _known(repository)

    assert known.n_tests == 1
    assert known.estimate.mean_mmol_per_l == pytest.approx(44.6, abs=0.3)


def test_a_test_counts_less_the_older_it_is():
    repository, facts = team(n_stages=1, n_riders=1)
    facts.sample("r1", "left", 70.0, at_ms=RACE_MS - DAY_MS)

    assert _known(repository).estimate.sd_mmol_per_l < _known(repository, RACE_MS + 60 * DAY_MS).estimate.sd_mmol_per_l


def test_a_sample_taken_later_says_nothing_about_an_earlier_stage():
    repository, facts = team(n_stages=1, n_riders=1)
    facts.sample("r1", "left", 70.0, at_ms=RACE_MS + DAY_MS)

    known = _known(repository)

    assert known.n_tests == 0
    assert [flag.code for flag in known.flags] == ["default_sodium"]


def test_an_unsealed_sample_is_flagged_and_not_used():
    repository, facts = team(n_stages=1, n_riders=1)
    facts.sample("r1", "left", 58.0, at_ms=RACE_MS - DAY_MS, is_sealed=False, stored_days=2.0)

    known = _known(repository)

    assert known.n_tests == 0
    assert "sample_quality" in {flag.code for flag in known.flags}


def test_a_conductivity_arm_is_never_averaged_with_a_sodium_arm():
    repository, facts = team(n_stages=1, n_riders=1)
    facts.sample("r1", "left", 58.0, at_ms=RACE_MS - DAY_MS, method="conductivity")
    facts.sample("r1", "right", 60.0, at_ms=RACE_MS - DAY_MS)

    known = _known(repository)

    assert known.n_tests == 0
    assert "METHOD_MISMATCH" in {flag.detail for flag in known.flags}


def test_a_repeated_collection_of_one_arm_counts_once():
    repository, facts = team(n_stages=1, n_riders=1)
    facts.sample("r1", "left", 90.0, at_ms=RACE_MS - DAY_MS)
    facts.sample("r1", "left", 50.0, at_ms=RACE_MS - DAY_MS + 60_000)

    known = _known(repository)

    assert known.n_tests == 1
    assert known.estimate.forearm_median_mmol_per_l < 60.0


def test_two_very_salty_tests_go_to_the_physician_one_does_not():
    repository, facts = team(n_stages=1, n_riders=1)
    facts.sample("r1", "left", 104.0, at_ms=RACE_MS - 40 * DAY_MS)
    once = [flag.code for flag in _known(repository).flags]
    facts.sample("r1", "left", 98.0, at_ms=RACE_MS - 5 * DAY_MS)
    twice = {flag.code: flag for flag in _known(repository).flags}

    assert "persistently_salty" not in once
    assert twice["persistently_salty"].severity == "medical"


def test_a_sweat_test_moves_profile_forecast_and_plan_and_gives_the_pocket_rule():
    repository, facts = team(n_stages=1, n_riders=1)
    everyone = frozenset({"r1"})
    recompute(repository, TEAM, Changed(everyone, edited_types=frozenset({"stage"})))
    before = repository.record("stage_forecast:r1:s1", StageForecast)
    facts.sample("r1", "left", 75.0, at_ms=RACE_MS - DAY_MS)
    facts.sample("r1", "right", 72.0, at_ms=RACE_MS - DAY_MS + 1)

    recompute(repository, TEAM, Changed(everyone, frozenset({"sweat_sample"})))

    profile = repository.record("profile:r1", RiderProfile)
    forecast = repository.record("stage_forecast:r1:s1", StageForecast)
    assert (profile.sodium_evidence, profile.n_sodium_tests) == ("weighed", 1)
    assert profile.pocket_rule.code == "every_nth_salty"
    assert profile.pocket_rule.base_drink_id == "standard"
    assert forecast.sodium_q50_mg > before.sodium_q50_mg
    assert forecast.sweat_q50_l == pytest.approx(before.sweat_q50_l)


def test_every_source_named_in_a_reason_is_in_the_bibliography():
    repository, _ = team(n_stages=1, n_riders=1)
    recompute(repository, TEAM, Changed(frozenset({"r1"}), edited_types=frozenset({"stage"})))
    records = [
        repository.record("profile:r1", RiderProfile), repository.record("stage_forecast:r1:s1", StageForecast),
        repository.record("stage_plan:r1:s1", StagePlan),
    ]

    named = {reason.source for record in records for reason in record.reasons if reason.source}

    assert named
    assert named <= set(all_sources())
