"""
Whether an exchange costs the same over a large store: ``python -m pytest -s tests/benchmarks/bench_large_store.py``.

Teams of 5,000 facts, a season each, are added with bulk SQL until there are ``BENCH_STORED`` facts (five million take
some 5 GB below ``BENCH_FOLDER``); the same devices of the same four teams push before and after.
"""

import os
import shutil
import sqlite3
import tempfile
from pathlib import Path

import pytest
from benchmarks.bench_exchange import BATCH, N_RIDERS, fill, lines, measure, show
from brinebook.storage.sql import open_repository
from brinebook.storage.sqlite import FILE_NAME
from support.live import LiveServer

FACTS_PER_TEAM = 5000
N_SMALL, N_LARGE = 10_000, int(os.environ.get("BENCH_STORED", "5000000"))
BENCH_S = float(os.environ.get("BENCH_S", "10"))
N_RUNS = 4
FLAT_FRAC = 0.20
EVENTS = """
WITH RECURSIVE place(seq) AS (SELECT 1 UNION ALL SELECT seq + 1 FROM place WHERE seq < :n_facts)
INSERT INTO event (team_id, id, seq, kind, subject_id, "by", disclosed_as, sha, received_at_ms, raw)
SELECT :team_id, id, seq, 'drank', 'r' || (seq % :n_riders), 'm', 'drank', hex(randomblob(32)), 1790000000000,
  CAST('{"id":"' || id || '","kind":"drank","v":1,"subject_id":"r' || (seq % :n_riders) || '","by":"m","device_id":'
  || '"device-0198c0de-0000-7000-8000-000000000000","n":1,"lamport":1,"at_ms":1790000000000,"offset_ms":12,"tz_min":'
  || '120,"stage_id":"stage-01","body":{"volume_l":0.25,"how":"level","drink_id":"standard","bottle":"down_tube",'
  || '"level_before_frac":1.0,"level_after_frac":0.5,"km":42.1}}' AS BLOB)
FROM (SELECT seq, printf('0198%04x-%04x-7%03x-8%03x-%012x', :team_no, seq, :team_no % 4096, seq % 4096,
                         abs(random()) % 281474976710656) AS id FROM place)
"""


def add_facts(path: Path, team_numbers: range) -> None:
    """Fill teams with facts, beside a server that is not running."""
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA synchronous=OFF")
    for number in team_numbers:
        team_id = f"team-{number}"
        connection.execute("BEGIN")
        known = connection.execute("SELECT event_seq FROM team_counter WHERE team_id = ?", (team_id,)).fetchone()
        if known is None:
            connection.execute("INSERT INTO team_counter VALUES (?, 0, 0, 0, 0)", (team_id,))
        connection.execute(EVENTS, {
            "team_id": team_id, "team_no": number, "n_facts": FACTS_PER_TEAM, "n_riders": N_RIDERS,
        })
        connection.executemany(
            "INSERT INTO event_digest VALUES (?, ?, 'drank', ?, '0000000000000000')",
            [(team_id, f"r{rider}", FACTS_PER_TEAM // N_RIDERS) for rider in range(N_RIDERS)],
        )
        connection.execute(
            "UPDATE team_counter SET event_seq = ?, computed_seq = ? WHERE team_id = ?",
            (FACTS_PER_TEAM, FACTS_PER_TEAM, team_id),
        )
        connection.execute("COMMIT")
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()


@pytest.fixture
def folder():
    made = Path(tempfile.mkdtemp(prefix="bb-bench-", dir=os.environ.get("BENCH_FOLDER")))
    yield made
    shutil.rmtree(made)


def _cost(server: LiveServer, devices) -> dict[str, float]:
    measure(server, devices, 3.0)
    return min((measure(server, devices, BENCH_S) for _ in range(N_RUNS)), key=lambda one: one["cpu_ms"])


@pytest.mark.timeout(3600)
def test_an_exchange_costs_the_same_over_five_million_facts(folder):
    data = folder / "data"
    data.mkdir()
    repository = open_repository(data)
    fill(repository, 2)
    repository.close()
    add_facts(data / FILE_NAME, range(N_SMALL // FACTS_PER_TEAM))
    server = LiveServer(data)
    server.start()
    devices = lines(server, 4, 2)
    small = _cost(server, devices)
    server.stop()

    add_facts(data / FILE_NAME, range(N_SMALL // FACTS_PER_TEAM, N_LARGE // FACTS_PER_TEAM))
    server.start()
    large = _cost(server, devices)
    server.stop()

    show(f"{N_SMALL:,} facts, {BATCH} more per exchange", small)
    show(f"{N_LARGE:,} facts ({(data / FILE_NAME).stat().st_size / 1e9:.1f} GB)", large)
    change = large["cpu_ms"] / small["cpu_ms"] - 1.0
    print(f"processor time per exchange {100.0 * change:+.0f} %")
    assert change <= FLAT_FRAC
