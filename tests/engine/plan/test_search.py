"""Deciding totals before timing loses nothing."""

import numpy as np
import pytest
from brinebook.engine.plan.bottles import BottlePlanInput, DrinkOption
from brinebook.engine.plan.programme import programme_of
from brinebook.engine.plan.search import solve


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


def test_totals_first_is_as_good_as_everything_at_once():
    programme = programme_of(_small(), is_cool_minimum_held=False)

    totals_first = solve(programme, is_timing_free=True)
    at_once = solve(programme, is_timing_free=False)

    assert programme.cost @ totals_first == pytest.approx(programme.cost @ at_once, rel=2e-3)


def test_no_point_is_said_as_none():
    programme = programme_of(_small(), is_cool_minimum_held=False)
    programme.rows.at_most("", -programme.water[-1], -99.0)

    assert solve(programme, is_timing_free=True) is None
