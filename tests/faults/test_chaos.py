"""A short run of the faults, on both stores: nothing lost, doubled, leaked, skipped or undelivered."""

import pytest
from support.chaos.run import Plan, run
from support.postgres import NoPostgres, programs

SECONDS = {"sqlite": 20.0, "postgresql": 12.0}


@pytest.mark.parametrize("backend", SECONDS)
def test_a_hostile_world_loses_and_doubles_nothing(backend):
    if backend == "postgresql":
        try:
            programs()
        except NoPostgres as problem:
            pytest.skip(str(problem))

    report = run(Plan(seconds=SECONDS[backend], seed=1, backend=backend, bout_s=SECONDS[backend] / 2))

    print("\n".join(report.lines()))
    assert report.is_good(), "\n".join(report.lines())
    assert report.operations["facts stored"] > 0
    assert report.operations["exchanges without a usable answer"] > 0
