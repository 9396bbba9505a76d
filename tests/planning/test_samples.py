"""Sweat samples on their way to a rider's sodium: handling taken off, doubts said, and short rides refused out loud."""

import math

import pytest
from brinebook.engine.measure.sodium_change import arm_spread_log_sd
from brinebook.planning.recompute import Changed, recompute
from brinebook.records.derived import RiderProfile, Settlement
from planning.fakes import DAY_MS, FIRST_START_MS, TEAM, stages_of, team

KINDS = frozenset({"sweat_sample", "weighed_ride", "weighed", "agreed"})


@pytest.fixture
def race():
    return team(n_stages=1, n_riders=1)


def _profile(race):
    repository, _ = race
    recompute(repository, TEAM, Changed(frozenset({"r1"}), KINDS))
    return repository.record("profile:r1", RiderProfile)


def _said(profile):
    return {flag.detail for flag in profile.flags if flag.code == "sample_quality"}


def _sample(race, sodium, *, days_ago=10, side="left", **more):
    race[1].sample("r1", side, sodium, at_ms=FIRST_START_MS - days_ago * DAY_MS, **more)


def _level(**more):
    race = team(n_stages=1, n_riders=1)
    _sample(race, 50.0, **more)
    return _profile(race)


def test_dilution_blank_and_evaporation_are_taken_off_and_said():
    plain, diluted = _level(), _level(diluent_ul=90.0)
    dried, blank = _level(evaporated_frac=0.1), _level(background_mg=0.02)

    assert diluted.sodium_median_forearm_mmol_per_l > 1.5 * plain.sodium_median_forearm_mmol_per_l
    assert dried.sodium_median_forearm_mmol_per_l < plain.sodium_median_forearm_mmol_per_l
    assert blank.sodium_median_forearm_mmol_per_l < plain.sodium_median_forearm_mmol_per_l
    assert "CORRECTED" in _said(diluted)
    assert "CORRECTED" not in _said(plain)


def test_a_blank_that_holds_more_than_the_sample_makes_it_unreadable_and_stops_nothing():
    profile = _level(background_mg=9.0)

    assert "UNREADABLE" in _said(profile)
    assert profile.n_sodium_tests == 0


def test_a_conductivity_is_turned_into_sodium_by_name_and_never_silently():
    profile, read = _level(method="conductivity"), _level()

    assert profile.sodium_median_forearm_mmol_per_l < read.sodium_median_forearm_mmol_per_l
    assert "COND_ONLY" in _said(profile)


def test_conductivity_beside_sodium_is_left_out_and_said(race):
    _sample(race, 50.0, days_ago=20)
    _sample(race, 70.0, days_ago=5, method="conductivity")

    profile = _profile(race)

    assert "METHOD_MISMATCH" in _said(profile)
    assert profile.sodium_median_forearm_mmol_per_l < 52.0


@pytest.mark.parametrize(("more", "code"), [
    ({"chloride_mmol_per_l": 10.0}, "NA_CL"), ({"potassium_mmol_per_l": 15.0}, "POTASSIUM_RANGE"),
    ({"chloride_mmol_per_l": 170.0}, "RANGE_IMPOSSIBLE"), ({"analyser_need_ul": 100.0}, "VOL_LOW"),
    ({"volume_ul": 5.0}, "VOL_LOW"), ({"stored_days": 3.0}, "STORED"), ({"is_sealed": False}, "STORE_FAIL"),
    ({"started_after_min": 5.0}, "FIRST_SWEAT"), ({"remarks": ["VOL_FULL"]}, "VOL_FULL"),
    ({"remarks": ["QC_FAIL"]}, "QC_FAIL"),
])
def test_each_rule_of_the_sample_form_is_said(more, code):
    assert code in _said(_level(**more))


def test_too_little_sweat_for_the_analyser_is_not_used():
    assert _level(analyser_need_ul=100.0).n_sodium_tests == 0
    assert _level(analyser_need_ul=70.0).n_sodium_tests == 1


def test_a_rider_who_changed_is_named_and_chance_is_not(race):
    for side in ("left", "right"):
        _sample(race, 40.0, days_ago=40, side=side)
        _sample(race, 62.0, days_ago=5, side=side)
    flags = {flag.code: flag for flag in _profile(race).flags}
    calm = team(n_stages=1, n_riders=1)
    for side in ("left", "right"):
        _sample(calm, 40.0, days_ago=40, side=side)
        _sample(calm, 46.0, days_ago=5, side=side)

    assert flags["sodium_changed"].value == pytest.approx(0.55)
    assert "sodium_changed" not in {flag.code for flag in _profile(calm).flags}


RIDE = {"mass_before_kg": 68.0, "mass_after_kg": 67.0, "fluid_drunk_l": 0.5, "power_w": 220.0,
        "air_temperature_c": 25.0, "relative_humidity_frac": 0.5, "air_speed_m_per_s": 8.0}


def test_a_ride_of_ten_minutes_is_refused_out_loud_and_teaches_nothing(race):
    race[1].add("weighed_ride", "r1", {**RIDE, "duration_h": 1.0 / 6.0}, at_ms=FIRST_START_MS - DAY_MS)

    profile = _profile(race)

    assert {flag.code: flag.limit for flag in profile.flags}["ride_too_short"] == 1.0
    assert profile.n_weighed == 0


def test_sweat_in_the_kit_and_stool_stand_in_the_balance(race):
    repository, facts = race
    stage = stages_of(repository)["s1"]
    facts.ride_a_stage("r1", stage, before_kg=68.0, after_kg=66.6, agreed_l=2.8)
    recompute(repository, TEAM, Changed(frozenset({"r1"}), KINDS, frozenset({"s1"})))
    plain = repository.record("settlement:r1:s1", Settlement)
    facts.add("weighed", "r1", {"moment": "after", "mass_kg": 66.6, "food_kg": 0.3, "urine_l": 0.1,
                                "kit_sweat_kg": 0.2, "stool_kg": 0.05}, at_ms=stage.start_at_ms + 6 * 3_600_000,
              stage_id="s1")
    recompute(repository, TEAM, Changed(frozenset({"r1"}), KINDS, frozenset({"s1"})))
    full = repository.record("settlement:r1:s1", Settlement)

    assert full.sweat_loss_l - plain.sweat_loss_l == pytest.approx(0.15)
    assert {"kit_sweat_kg", "stool_kg"} <= {given.quantity for given in full.explained[0].inputs}


def test_wet_kit_that_nobody_weighed_widens_the_loss(race):
    repository, facts = race
    stage = stages_of(repository)["s1"]
    facts.ride_a_stage("r1", stage, before_kg=68.0, after_kg=66.6, agreed_l=2.8)
    recompute(repository, TEAM, Changed(frozenset({"r1"}), KINDS, frozenset({"s1"})))
    dry = repository.record("settlement:r1:s1", Settlement)
    facts.add("weighed", "r1", {"moment": "after", "mass_kg": 66.6, "food_kg": 0.3, "urine_l": 0.1,
                                "is_kit_dry": False},
              at_ms=stage.start_at_ms + 6 * 3_600_000, stage_id="s1")
    recompute(repository, TEAM, Changed(frozenset({"r1"}), KINDS, frozenset({"s1"})))
    wet = repository.record("settlement:r1:s1", Settlement)

    assert wet.sweat_loss_l == pytest.approx(dry.sweat_loss_l)
    assert wet.sweat_loss_sd_l == pytest.approx(math.hypot(dry.sweat_loss_sd_l, 0.15))


def test_a_team_s_own_arm_spread_counts_after_twenty_pairs():
    pairs = [(50.0, 50.0 * math.exp(0.1 if place % 2 else -0.1)) for place in range(20)]

    assert arm_spread_log_sd(pairs[:19]) == 0.08
    assert arm_spread_log_sd(pairs) == pytest.approx(0.1 * math.sqrt(20 / 19) / math.sqrt(2.0), rel=1e-9)
