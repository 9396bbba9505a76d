"""The search finds what going through every plan finds."""

import os

import pytest
from brinebook.engine.plan.bottles import plan_bottles
from engine.plan.exact import least_penalty, random_plan

N_BLOCKS, N_PER_BLOCK = (20, 100) if os.environ.get("BRINEBOOK_LONG") else (10, 20)


@pytest.mark.parametrize("block", range(N_BLOCKS))
def test_no_plan_is_better_than_the_one_found(block):
    n_allowed = 0
    for seed in range(block * N_PER_BLOCK, (block + 1) * N_PER_BLOCK):
        inp = random_plan(seed)

        plan, least = plan_bottles(inp), least_penalty(inp)

        if plan.is_relaxed:
            assert least == float("inf"), seed
            continue
        n_allowed += 1
        assert plan.penalty_u == pytest.approx(least, abs=2e-4), seed
        assert plan.bound_u <= least + 2e-4, seed
    assert n_allowed > N_PER_BLOCK // 2
