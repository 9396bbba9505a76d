"""The search states a bound and keeps its gap."""

import numpy as np
import pytest
from brinebook.engine.constants import balance as c
from brinebook.engine.plan.bottles import BottlePlanInput, DrinkOption, plan_bottles
from brinebook.engine.plan.programme import programme_of
from brinebook.engine.plan.search import Gap, solve
from brinebook.engine.plan.search_linear import shadow_of
from engine.plan.stages import random_stage
from scipy.optimize import linprog

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


def test_a_search_that_has_to_stop_says_an_honest_bound(monkeypatch):
    programme = programme_of(_small(), is_cool_minimum_held=False)
    best = solve(programme, TIGHT)
    monkeypatch.setattr(c, "PROGRAMME_STEPS_N", 1)

    early = solve(programme, TIGHT)

    assert early.bound_u <= best.bound_u + 1e-6
    assert programme.cost @ early.point >= programme.cost @ best.point - 1e-6


def test_the_least_penalty_without_whole_units_is_that_of_an_interior_point_method():
    programme = programme_of(_small(), is_cool_minimum_held=False)
    rows = programme.rows
    high, low, lines = np.concatenate(rows.high), np.concatenate(rows.low), np.vstack(rows.coefficients)
    is_equal = low == high
    told = linprog(
        programme.cost, A_ub=lines[~is_equal], b_ub=high[~is_equal], A_eq=lines[is_equal], b_eq=high[is_equal],
        bounds=np.column_stack([np.zeros_like(programme.upper), programme.upper]), method="highs-ipm",
    )

    assert shadow_of(programme).bound_u == pytest.approx(told.fun)


def test_a_stage_that_puzzles_the_warm_solver_is_asked_again_from_the_beginning():
    inp, _ = random_stage(601)

    assert inp.is_cool
    assert solve(programme_of(inp, is_cool_minimum_held=True), Gap(0.05, 0.01)) is None
    assert plan_bottles(inp).is_relaxed
