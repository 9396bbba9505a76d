"""What if: the untouched question gives the plan's own day; heat, pace and missed bottles move what they must."""

import pytest
from brinebook.access.disclosure import eyes_of
from brinebook.planning.recompute import plan_stage
from brinebook.planning.what_if import Question, what_if
from brinebook.records.derived import StageForecast, StagePlan
from brinebook.records.edited import Member
from brinebook.storage.errors import NotFound
from planning.fakes import TEAM, team

EYES = eyes_of(TEAM, Member(id="m1", name="M", role="physiologist"))


@pytest.fixture(scope="module")
def planned():
    repository, _ = team(n_stages=1, n_riders=1)
    plan_stage(repository, TEAM, "s1")
    return repository


def _ask(repository, **different):
    return what_if(repository, EYES, "s1", Question(rider_id="r1", **different))


def test_an_untouched_question_gives_the_plans_own_day(planned):
    answer = _ask(planned)
    forecast = planned.record("stage_forecast:r1:s1", StageForecast)
    plan = planned.record("stage_plan:r1:s1", StagePlan)

    assert answer.sweat_quantiles_l == pytest.approx(forecast.sweat_quantiles_l)
    assert (answer.lane_low_l, answer.lane_high_l) == pytest.approx((plan.lane_low_l, plan.lane_high_l))
    assert answer.intake_l == pytest.approx(plan.water_l)
    last = plan.along[-1]
    assert answer.plasma_low_mmol_per_l == pytest.approx(last.plasma_sodium_low_mmol_per_l, abs=0.3)
    assert answer.plasma_high_mmol_per_l == pytest.approx(last.plasma_sodium_high_mmol_per_l, abs=0.3)


def test_more_heat_is_never_less_loss_and_a_faster_race_is_shorter(planned):
    usual, hot, fast = _ask(planned), _ask(planned, heat_c=6.0), _ask(planned, pace_frac=1.1)

    assert hot.sweat_q50_l > usual.sweat_q50_l
    assert hot.air_temperature_max_c == pytest.approx(usual.air_temperature_max_c + 6.0, abs=0.2)
    assert fast.duration_h < usual.duration_h


def test_missed_bottles_are_owed_and_leave_blood_sodium_higher(planned):
    usual, missed = _ask(planned), _ask(planned, missed_n=2)

    assert missed.intake_l < usual.intake_l
    assert missed.deficit_high_frac > usual.deficit_high_frac
    assert missed.plasma_high_mmol_per_l > usual.plasma_high_mmol_per_l


def test_nothing_is_stored_and_an_unknown_stage_is_said(planned):
    n_writes = planned.n_writes
    _ask(planned, heat_c=3.0)

    assert planned.n_writes == n_writes
    with pytest.raises(NotFound):
        what_if(planned, EYES, "nowhere", Question(rider_id="r1"))
