"""Caps of the gut."""

import numpy as np
import pytest
from brinebook.engine.plan.gut import carbohydrate_cap_g_per_h, limits_after_gut_trouble, stomach_l
from brinebook.engine.plan.terms import PlanLimits


def test_only_a_trained_gut_with_mixed_sugars_may_have_120():
    caps = {
        (mixed, trained): carbohydrate_cap_g_per_h(is_mixed_sugar=mixed, is_gut_trained=trained)
        for mixed in (False, True) for trained in (False, True)
    }

    assert caps == {(False, False): 60.0, (False, True): 60.0, (True, False): 90.0, (True, True): 120.0}


def test_trouble_cuts_the_rate_by_thirty_percent_and_never_raises_fuel():
    after = limits_after_gut_trouble(PlanLimits(max_carbohydrate_g_per_h=45.0))

    assert after.max_intake_l_per_h == pytest.approx(0.7)
    assert after.max_any_hour_l_per_h == pytest.approx(0.84)
    assert after.max_carbohydrate_g_per_h == pytest.approx(31.5)


def test_splitting_a_segment_in_two_changes_nothing():
    whole = stomach_l(np.array([0.0, 1.0]), drunk_l=np.array([0.6]))
    halves = stomach_l(np.array([0.0, 0.5, 1.0]), drunk_l=np.array([0.3, 0.3]))

    assert halves[-1] == pytest.approx(whole[-1], abs=1e-12)
