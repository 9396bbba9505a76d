"""No hard limit is crossed when sampled bodies ride the plan, hand-ups missed or not."""

import os

import numpy as np
import pytest
from brinebook.engine.plan.bottles import plan_bottles
from engine.plan.bodies import Bodies, most_in_an_hour, ride, sample
from engine.plan.stages import random_stage

N_BLOCKS, N_PER_BLOCK, N_BODIES = (40, 50, 1000) if os.environ.get("BRINEBOOK_LONG") else (5, 20, 1000)
AT_Q = 1.2815515655446004
DROP, GRAIN, CRUMB, TRACE = 1e-4, 0.1, 0.01, 1e-3
FLOOR, MEASURED_WORST, MOST_BELOW_FRAC = 138.0, 133.5, 2e-4


def _corners(inp, luck):
    """Bodies exactly at q10, q50 and q90, with sweat as tested and as salty as reckoned with, for every luck."""
    z, sodium = np.meshgrid([-AT_Q, 0.0, AT_Q], [inp.sodium_mmol_per_l, inp.sodium_high_mmol_per_l])
    n = z.size
    return Bodies(
        sweat_z=np.tile(z.ravel(), len(luck)), sodium=np.tile(sodium.ravel(), len(luck)),
        tbw=np.full(n * len(luck), inp.tbw_l), luck=np.repeat(luck, n, axis=0),
    )


def _check_gut(inp, ridden, seed):
    limits, hours = inp.limits, inp.times_h[-1]
    drunk, width = most_in_an_hour(ridden.t, ridden.drunk)
    sodium, _ = most_in_an_hour(ridden.t, ridden.sodium)
    fuel, _ = most_in_an_hour(ridden.t, ridden.fuel)
    assert drunk.max() <= limits.max_any_hour_l_per_h * width + DROP, seed
    assert ridden.drunk[:, -1].max() <= limits.max_intake_l_per_h * hours + DROP, seed
    assert sodium.max() <= limits.max_sodium_mg_per_h * width + GRAIN, seed
    assert ridden.sodium[:, -1].max() <= inp.sodium_mmol_per_l * 22.98977 * inp.sweat_q50_l[-1] + GRAIN, seed
    assert fuel.max() <= limits.max_carbohydrate_g_per_h * width + limits.carbohydrate_allowance_g + CRUMB, seed
    assert ridden.fuel[:, -1].max() <= limits.max_carbohydrate_g_per_h * hours + CRUMB, seed
    assert ridden.stomach.max() <= limits.max_stomach_l + DROP, seed


def _check_strength(inp, ridden, seed):
    """What is strong is drunk with so much water that both together are no stronger than the ceiling."""
    for field, most in (("sodium_mg_per_l", 1500.0), ("carbohydrate_g_per_l", 80.0)):
        strength = np.array([getattr(drink, field) for drink in inp.drinks])
        is_water = np.array([d.sodium_mg_per_l <= 100.0 and d.carbohydrate_g_per_l == 0.0 for d in inp.drinks])
        counted = np.where((strength > most) | is_water, strength - most, 0.0)
        assert (ridden.by_stretch @ counted).max() <= GRAIN, seed


def _check_carrying(inp, plan, seed):
    bottle = np.array([d.bottle_l for d in inp.drinks])
    held = np.zeros(len(bottle))
    pockets = np.zeros(len(inp.foods))
    for k, handed in enumerate(plan.bottles):
        assert handed.sum() <= inp.max_bottles_per_feed[k], seed
        assert np.ceil(held / bottle - DROP).sum() + handed.sum() <= inp.limits.n_carried, seed
        held = np.maximum(held + handed * bottle - plan.drunk_l[k], 0.0)
        pockets = pockets + plan.foods[k]
        assert pockets.sum() <= inp.limits.n_foods_per_feed + DROP, seed
        pockets = pockets - plan.eaten[k]
        assert min(pockets.min(initial=0.0), held.min()) >= -DROP, seed
    for b, drink in enumerate(inp.drinks):
        is_closed = not drink.is_allowed or drink.sodium_mg_per_l > inp.limits.max_drink_sodium_mg_per_l
        assert not (is_closed and plan.bottles[:, b].any()), seed
        assert drink.most_n is None or plan.bottles[:, b].sum() <= drink.most_n, seed


@pytest.mark.parametrize("block", range(N_BLOCKS))
def test_no_hard_limit_is_crossed_by_any_body_the_plan_reckons_with(block):
    worst, gaining, below = np.inf, [], 0
    for seed in range(block * N_PER_BLOCK, (block + 1) * N_PER_BLOCK):
        inp, road = random_stage(seed)
        plan = plan_bottles(inp)
        bodies = sample(inp, N_BODIES, np.random.default_rng(seed))
        corners = ride(inp, plan, _corners(inp, np.unique(bodies.luck, axis=0)), road)
        ridden = ride(inp, plan, bodies, road)

        _check_carrying(inp, plan, seed)
        _check_gut(inp, corners, seed)
        _check_strength(inp, corners, seed)
        least_loss = np.interp(ridden.t, road[0], road[1][0])
        assert (corners.water <= least_loss + 0.25 + DROP).all(), seed
        assert corners.water[:, -1].max() <= least_loss[-1] + DROP, seed
        assert corners.plasma.min() >= FLOOR - TRACE, seed
        worst = min(worst, ridden.plasma.min())
        below += int((ridden.plasma.min(axis=1) < 135.0).sum())
        gaining.append(float((ridden.water[:, -1] > ridden.loss[:, -1] + DROP).mean()))
    print(f"\nblock {block}: lowest plasma sodium {worst:.2f} mmol/L, below 135: {below} of "
          f"{N_PER_BLOCK * N_BODIES}, gaining mass {100 * np.mean(gaining):.2f} %, at most {100 * max(gaining):.1f} %")
    assert worst >= MEASURED_WORST
    assert below <= max(2, MOST_BELOW_FRAC * N_PER_BLOCK * N_BODIES)
    assert max(gaining) <= 0.13
