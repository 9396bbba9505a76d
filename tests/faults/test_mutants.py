"""Each check of the harness notices the fault it is there for. ``BRINEBOOK_EACH_MUTANT=1`` plants them one by one."""

import os

import pytest
from support.chaos.run import Plan, run

JUMP, KILL, RESTORE = frozenset({"clock jumped days"}), frozenset({"server killed"}), frozenset({"old dump restored"})
CASES = (
    ({"no unique key": "doubled", "bare sequence": "sequence gaps", "missing scope filter": "leaked"}, JUMP),
    ({"cursor and page in two transactions": "places lost", "outbox cleared on 401": "lost"}, JUMP),
    ({"ack before commit": "acknowledged but absent"}, KILL),
    ({"nothing authored kept": "lost"}, RESTORE),
)
"""Mutants that fault different counts may be planted together: a server takes longer to start than to be found out."""
ALONE = tuple(({name: count}, only) for counts, only in CASES for name, count in counts.items())
SECONDS = 3.0
DRAIN_LIMIT_S = 2.0
SEEDS = (3, 4)
"""A busy machine may answer too little in three seconds to be found out; then there is a second go."""


@pytest.mark.parametrize(
    ("counts", "only"), ALONE if os.environ.get("BRINEBOOK_EACH_MUTANT") else CASES, ids="+".join,
)
def test_the_harness_notices(counts, only):
    mutant = "+".join(counts)
    for seed in SEEDS:
        plan = Plan(seconds=SECONDS, seed=seed, mutant=mutant, only=only, bout_s=SECONDS, drain_limit_s=DRAIN_LIMIT_S)
        report = run(plan)
        if all(report.bad[count] for count in counts.values()):
            break

    print("\n".join(report.lines()))
    assert [count for count in counts.values() if report.bad[count] == 0] == []
    assert not report.is_good()
