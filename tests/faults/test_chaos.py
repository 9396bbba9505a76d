"""A short run of the faults, on both stores: nothing lost, doubled, leaked, skipped or undelivered."""

import pytest
from support.chaos.run import Plan, run
from support.postgres import NoPostgres, programs

SECONDS = {"sqlite": 12.0, "postgresql": 8.0}
PACE_S = (0.25, 0.9)
"""Twice as quick as the long run, so that a short one meets as many faults of the server as one of twice its length."""


@pytest.mark.parametrize("backend", SECONDS)
def test_a_hostile_world_loses_and_doubles_nothing(backend):
    if backend == "postgresql":
        try:
            programs()
        except NoPostgres as problem:
            pytest.skip(str(problem))

    seconds = SECONDS[backend]
    report = run(Plan(seconds=seconds, seed=1, backend=backend, bout_s=seconds / 2, pace_s=PACE_S))

    print("\n".join(report.lines()))
    assert report.is_good(), "\n".join(report.lines())
    assert report.operations["facts stored"] > 0
    assert report.operations["exchanges without a usable answer"] > 0
