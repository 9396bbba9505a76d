"""Mornings on the profile: a line that an illness does not move, and a rise that is not good hydration."""

import pytest
from brinebook.planning.recompute import Changed, recompute
from brinebook.records.derived import RiderProfile
from planning.fakes import DAY_MS, FIRST_START_MS, HOUR_MS, TEAM, team


@pytest.fixture
def race():
    return team(n_stages=1, n_riders=1)


def _profile(race, mornings):
    repository, facts = race
    for back, (mass_kg, more) in enumerate(reversed(mornings)):
        at_ms = FIRST_START_MS - back * DAY_MS - 5 * HOUR_MS
        facts.add("morning_check", "r1", {"mass_kg": mass_kg, **more}, at_ms=at_ms)
    recompute(repository, TEAM, Changed(frozenset({"r1"}), frozenset({"morning_check"})))
    return repository.record("profile:r1", RiderProfile)


def _codes(profile):
    return {flag.code for flag in profile.flags}


def test_the_line_and_the_change_stand_on_the_profile():
    profile = _profile(team(n_stages=1, n_riders=1), [(68.0, {}), (68.2, {}), (68.1, {}), (67.4, {})])

    assert profile.morning_line_kg == pytest.approx(68.1)
    assert profile.morning_change_frac == pytest.approx(67.4 / 68.1 - 1.0)


def test_a_rising_morning_is_flagged_and_not_praised(race):
    assert "morning_mass_above_band" in _codes(_profile(race, [(68.0, {})] * 5 + [(69.2, {})]))


def test_mornings_of_an_illness_do_not_move_the_line(race):
    ill = {"is_ill": True}
    profile = _profile(race, [(68.0, {})] * 5 + [(65.5, ill), (65.5, ill), (66.4, {})])

    assert profile.morning_line_kg == 68.0
    assert "morning_mass_below_band" in _codes(profile)


def test_too_few_mornings_say_nothing(race):
    profile = _profile(race, [(68.0, {}), (60.0, {})])

    assert profile.morning_line_kg is None
    assert not {code for code in _codes(profile) if code.startswith("morning")}
