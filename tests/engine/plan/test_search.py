"""The search states a bound and keeps its gap."""

import numpy as np
import pytest
from brinebook.engine.plan.bottles import BottlePlanInput, DrinkOption
from brinebook.engine.plan.programme import programme_of
from brinebook.engine.plan.search import Gap, shadow_of, solve

TIGHT = Gap(1e-6, 1e-6)


def _small():
    times_h = np.array([0.0, 1.0, 2.0, 3.0])
    return BottlePlanInput(
        times_h=times_h, sweat_q10_l=0.8 * times_h, sweat_q50_l=times_h, sweat_q90_l=1.2 * times_h, tbw_l=42.0,
        mass_kg=70.0, sodium_mmol_per_l=40.0, max_bottles_per_feed=np.array([2, 2, 2]), target_water_l=1.6,
        target_sodium_mg=1380.0,
        drinks=(
            DrinkOption(bottle_l=0.5, water_frac=1.0),
            DrinkOption(bottle_l=0.5, water_frac=1.0, sodium_mg_per_l=800.0),
        ),
    )


def test_a_wide_gap_is_kept_and_a_tight_one_closes():
    programme = programme_of(_small(), is_cool_minimum_held=False)

    wide, tight = solve(programme, Gap(0.05, 0.01)), solve(programme, TIGHT)

    best_u = programme.cost @ tight.point
    assert best_u - tight.bound_u <= 1e-4
    assert programme.cost @ wide.point <= best_u + 0.05 + 0.01 * best_u
    assert wide.bound_u <= best_u + 1e-6


def test_plans_without_whole_bottles_are_a_bound():
    programme = programme_of(_small(), is_cool_minimum_held=False)

    assert shadow_of(programme).bound_u <= programme.cost @ solve(programme, TIGHT).point + 1e-6


def test_no_point_is_said_as_none():
    programme = programme_of(_small(), is_cool_minimum_held=False)
    programme.rows.at_most("", -programme.water.sum(axis=0), -99.0)

    assert solve(programme, TIGHT) is None
    assert shadow_of(programme).bound_u == pytest.approx(np.inf)
