"""The spread of a stage learnt from surprises: it narrows with calm days, widens with wild ones, and has a floor."""

import math

import numpy as np
import pytest
from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.settle.stage_noise import DEFAULT_STAGE_LOG_SD, stage_log_sd

N_RIDERS, N_RACE_DAYS, N_RACES = 8, 21, 60
Z80 = 1.2816


def test_without_a_surprise_the_spread_is_the_literatures():
    assert stage_log_sd([], known_log_sds=[]) == DEFAULT_STAGE_LOG_SD == math.hypot(0.15, 0.15)


@pytest.mark.parametrize("true_log_sd", [0.12, 0.21, 0.35])
def test_many_stages_find_the_true_spread(true_log_sd):
    random = np.random.default_rng(5)
    known = random.uniform(0.05, 0.15, 4000)

    found = stage_log_sd(random.normal(size=4000) * np.hypot(true_log_sd, known), known_log_sds=known)

    assert found == pytest.approx(true_log_sd, rel=0.05)


def test_days_more_alike_than_any_scale_shows_stop_at_the_floor():
    assert stage_log_sd([0.0] * 500, known_log_sds=[0.1] * 500) == k.STAGE_NOISE_FLOOR_LOG_SD


def test_one_forgotten_bottle_does_not_open_the_band():
    calm = [0.1, -0.1] * 30

    assert stage_log_sd([*calm, 3.0], known_log_sds=[0.05] * 61) < stage_log_sd([], known_log_sds=[])


def test_order_does_not_matter_and_a_longer_surprise_never_narrows():
    surprises, known = [0.2, -0.1, 0.05, 0.3], [0.05, 0.1, 0.07, 0.02]

    assert stage_log_sd(surprises, known_log_sds=known) == pytest.approx(
        stage_log_sd(surprises[::-1], known_log_sds=known[::-1])
    )
    assert stage_log_sd([0.25, *surprises[1:]], known_log_sds=known) >= stage_log_sd(surprises, known_log_sds=known)


@pytest.mark.parametrize(("surprises", "known", "field"), [
    ([0.1], [], "known_log_sds"), ([math.nan], [0.1], "surprises_log"), ([0.1], [-0.1], "known_log_sds"),
])
def test_impossible_input_is_refused_by_name(surprises, known, field):
    with pytest.raises(UnphysicalInput, match=field):
        stage_log_sd(surprises, known_log_sds=known)


def _shares_held(true_log_sd):
    """Return the shares of third-week stages inside the learnt and the fixed 80 % band, over simulated races."""
    random = np.random.default_rng(17)
    n_earlier, n_later = N_RIDERS * (N_RACE_DAYS - 7), N_RIDERS * 7
    learnt, fixed = [], []
    for _ in range(N_RACES):
        known = random.uniform(0.05, 0.12, n_earlier)
        spread = stage_log_sd(random.normal(size=n_earlier) * np.hypot(true_log_sd, known), known_log_sds=known)
        later = random.uniform(0.05, 0.12, n_later)
        off = np.abs(random.normal(size=n_later) * np.hypot(true_log_sd, later))
        learnt.append(np.mean(off <= Z80 * np.hypot(spread, later)))
        fixed.append(np.mean(off <= Z80 * np.hypot(DEFAULT_STAGE_LOG_SD, later)))
    return float(np.mean(learnt)), float(np.mean(fixed))


@pytest.mark.parametrize("true_log_sd", [0.13, 0.30])
def test_in_the_third_week_the_learnt_band_holds_its_word_better_than_the_fixed_one(true_log_sd):
    learnt, fixed = _shares_held(true_log_sd)
    print(f"\ntrue spread {true_log_sd}: learnt 80 % band holds {100 * learnt:.1f} %, fixed {100 * fixed:.1f} %")

    assert abs(learnt - 0.80) < 0.06
    assert abs(learnt - 0.80) < abs(fixed - 0.80) / 2
