"""Who rides how hard, and where the wind finds them."""

from typing import get_args

import numpy as np
import pytest
from brinebook.engine.constants import road
from brinebook.engine.stage.effort import (
    RaceRole,
    StageKind,
    air_speed_shelter_frac,
    drag_area_m2,
    gradient_weight,
    target_power_w,
)
from brinebook.records import common

GRADIENTS = np.array([-0.08, -0.03, 0.0, 0.02, 0.05, 0.09])
FAR_M = np.full(6, 50_000.0)


def test_kinds_and_roles_are_spelt_as_in_the_records():
    assert get_args(StageKind) == get_args(common.StageKind)
    assert get_args(RaceRole) == get_args(common.RaceRole)


@pytest.mark.parametrize("kind", get_args(StageKind))
@pytest.mark.parametrize("role", get_args(RaceRole))
def test_every_kind_and_role_has_a_power_a_professional_holds(kind, role):
    assert 1.5 < target_power_w(1.0, stage_kind=kind, race_role=role) <= road.CLIMB_POWER_LIMIT_W_PER_KG


def test_weight_grows_with_gradient_from_nothing_on_a_steep_descent():
    assert gradient_weight(GRADIENTS, to_finish_m=FAR_M, stage_kind="hilly") == pytest.approx(
        [0.0, 0.35, 0.90, 1.15, 1.35, 1.45]
    )


def test_the_finale_of_a_mountain_stage_weighs_more():
    near = gradient_weight(GRADIENTS, to_finish_m=np.full(6, 5_000.0), stage_kind="mountain")
    far = gradient_weight(GRADIENTS, to_finish_m=FAR_M, stage_kind="mountain")

    assert near == pytest.approx(1.15 * far)


def test_a_protected_leader_meets_less_drag_than_a_breakaway_and_a_climb_shelters_less():
    leader = drag_area_m2(GRADIENTS, stage_kind="flat", race_role="leader")
    breakaway = drag_area_m2(GRADIENTS, stage_kind="flat", race_role="breakaway")

    assert (leader < breakaway).all()
    assert leader[-1] > leader[0]
    assert breakaway.max() <= road.DRAG_AREA_ROAD_M2


def test_alone_against_the_clock_nobody_shelters():
    assert air_speed_shelter_frac(GRADIENTS, stage_kind="time_trial", race_role="leader") == pytest.approx(1.0)
