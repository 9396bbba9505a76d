"""Each stored figure that matters can be opened, and opening it tells nobody a mass he may not know."""

import pytest
from brinebook.engine.explain import EQUATIONS
from brinebook.engine.sources import all_sources
from brinebook.planning.recompute import Changed, recompute
from brinebook.records.derived import EveningDrink, RiderProfile, Settlement, StageForecast, StagePlan
from planning.fakes import DAY_MS, FIRST_START_MS, TEAM, stages_of, team

KINDS = frozenset({"weighed", "agreed", "sweat_sample"})
OPENED = {
    ("profile:r1", RiderProfile): {"sodium_estimate", "sweat_factor"},
    ("stage_forecast:r1:s2", StageForecast): {"stage_loss"},
    ("stage_plan:r1:s2", StagePlan): {"water_target", "water_limit", "sodium_target", "plasma_sodium"},
    ("settlement:r1:s1", Settlement): {"stage_balance"},
    ("evening_drink:r1:s1", EveningDrink): {"evening_drink"},
}


@pytest.fixture(scope="module")
def race():
    repository, facts = team(n_stages=2, n_riders=1)
    for side, sodium in (("left", 58.0), ("right", 64.0)):
        facts.sample("r1", side, sodium, at_ms=FIRST_START_MS - 10 * DAY_MS)
    facts.ride_a_stage("r1", stages_of(repository)["s1"], before_kg=68.0, after_kg=66.2, agreed_l=2.8)
    recompute(repository, TEAM, Changed(frozenset({"r1"}), KINDS, edited_types=frozenset({"stage"})))
    return repository


@pytest.mark.parametrize(("document", "equations"), list(OPENED.items()), ids=[id_ for id_, _ in OPENED])
def test_a_record_opens_its_main_figures(race, document, equations):
    record = race.record(*document)

    assert {one.equation for one in record.explained} == equations
    for one in record.explained:
        assert one.equation in EQUATIONS
        assert set(one.sources) <= set(all_sources())
        assert {given.source for given in one.inputs} - {""} <= set(all_sources())
        assert one.inputs


def test_the_opened_figure_is_the_stored_one(race):
    profile, settlement = race.record("profile:r1", RiderProfile), race.record("settlement:r1:s1", Settlement)
    forecast, plan = race.record("stage_forecast:r1:s2", StageForecast), race.record("stage_plan:r1:s2", StagePlan)
    evening = race.record("evening_drink:r1:s1", EveningDrink)
    opened = {one.quantity: one.value for record in (profile, settlement, forecast, plan, evening)
              for one in record.explained}

    assert opened["sweat_sodium_mmol_per_l"] == profile.sodium_mean_mmol_per_l
    assert opened["sweat_factor"] == profile.sweat_factor_median
    assert opened["sweat_loss_l"] == settlement.sweat_loss_l
    assert opened["sweat_q50_l"] == forecast.sweat_q50_l
    assert opened["target_water_l"] == plan.target_water_l
    assert opened["drink_l"] == evening.drink_l


def test_the_balance_adds_up_from_what_it_names(race):
    settlement = race.record("settlement:r1:s1", Settlement)
    form = {given.quantity: given.value for given in settlement.explained[0].inputs}

    by_hand = (form["mass_before_kg"] - form["mass_after_kg"] + form["drunk_l"] + form["food_kg"] - form["urine_l"]
               - 0.20e-3 * form["energy_kcal"])

    assert by_hand == pytest.approx(settlement.sweat_loss_l, abs=1e-9)


def test_what_a_coach_may_read_names_the_body_and_tells_no_mass(race):
    for document in (("stage_forecast:r1:s2", StageForecast), ("stage_plan:r1:s2", StagePlan)):
        told = [given for one in race.record(*document).explained for given in one.inputs]

        assert "mass_kg" in {given.quantity for given in told}
        assert {given.value for given in told if given.quantity.startswith(("mass", "height"))} == {None}


def test_a_summary_opens_nothing(race):
    summary = race.record("settlement_summary:r1:s1", Settlement)

    assert summary.explained == []
