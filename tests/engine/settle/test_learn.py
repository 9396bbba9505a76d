"""Learning from weighings: gate, drift and the team's own offset."""

import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.settle.learn import FactorState, personal_factor, team_offset, update_factor

PRIOR = FactorState(0.0, 0.2)


def _update(observed_l, **changes):
    return update_factor(PRIOR, **({"model_l": 4.0, "observed_l": observed_l, "observed_sd_l": 0.3} | changes))


@pytest.mark.parametrize("observed_l", [9.0, 0.0, -1.2])
def test_a_weighing_too_far_off_teaches_nothing(observed_l):
    update = _update(observed_l)

    assert update.is_rejected
    assert (update.state.log_mean, update.gain) == (0.0, 0.0)


def test_days_without_a_weighing_make_the_factor_less_sure():
    assert _update(9.0, n_days_since=10.0).state.log_sd > _update(9.0, n_days_since=1.0).state.log_sd > 0.2


def test_a_poorer_weighing_teaches_less():
    assert 0.0 < _update(5.0, observed_sd_l=1.0).gain < _update(5.0, observed_sd_l=0.1).gain < 1.0


def test_a_model_without_sweat_is_refused():
    with pytest.raises(UnphysicalInput, match="model_l"):
        _update(4.0, model_l=0.0)


def test_the_team_offset_shrinks_to_zero_and_sharpens_with_riders():
    few = team_offset([0.2], [0.25])
    many = team_offset([0.2] * 8, [0.25] * 8)

    assert 0.0 < few[0] < many[0] < 0.2
    assert many[1] < few[1] < 0.2


def test_stages_taken_together_equal_stages_taken_one_by_one():
    state = FactorState(0.0, 0.25)
    for ratio in (1.20, 1.10, 1.25):
        state = update_factor(
            state, model_l=4.0, observed_l=4.0 * ratio, observed_sd_l=1e-9, model_log_sd=0.15, n_days_since=0.0
        ).state
    together = personal_factor([1.20, 1.10, 1.25]).state

    assert (state.log_mean, state.log_sd) == pytest.approx((together.log_mean, together.log_sd))
