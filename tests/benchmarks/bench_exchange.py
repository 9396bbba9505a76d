"""
What an exchange costs: ``python -m pytest -s tests/benchmarks/bench_exchange.py`` prints every number.

A real server, sign-in and scope on, SQLite flushed on every commit; the phones run beside it on the same machine.
``BENCH_STORED`` sets how many facts the large store holds, ``BENCH_S`` how long each measurement lasts.
"""

import os
import threading
import time

import httpx
import pytest
from brinebook.access import invites
from brinebook.records.edited import Rider, Team
from brinebook.storage.sql import open_repository
from support import postgres
from support.live import Client, LiveServer
from support.load import Line, cpu_s, percentile

N_TEAMS, N_RIDERS = 4, 8
N_LINES = 8
BATCH = 50
BENCH_S = float(os.environ.get("BENCH_S", "10"))
WANTED_PER_S = {"sqlite": 150.0, "postgresql": 90.0}
"""SQLite's is the target; PostgreSQL's keeps what was reached with ``synchronous_commit`` on (102 to 105)."""
WANTED_P99_S = 0.150
IDLE_BUDGET_S = 0.002
N_HERD = 1000


def team_id(place: int) -> str:
    return f"team-{place}"


def fill(repository, n_teams: int = N_TEAMS) -> None:
    for place in range(n_teams):
        repository.add_team(Team(id=team_id(place), version=1, name="T", race_name="R"))
        for number in range(N_RIDERS):
            repository.put_edited(team_id(place), Rider(
                id=f"r{number}", version=1, name="R", race_number=number + 1))


def lines(server: LiveServer, n_lines: int, n_teams: int = N_TEAMS) -> list[Line]:
    """Sign in devices, spread over the teams."""
    repository = open_repository(server.data, server.environment["BRINEBOOK_DATABASE_URL"])
    made = [
        (place, invites.invite(repository, team_id(place % n_teams), invites.Wanted(name="Car", role="car")))
        for place in range(n_lines)
    ]
    repository.close()
    found = []
    for _, invite in made:
        client = Client(server.base_url, invite.secret)
        client.close()
        found.append(Line(
            server.port, client.token, client.member["id"], client.device_id,
            tuple(f"r{number}" for number in range(N_RIDERS)),
        ))
    return found


@pytest.fixture(params=["sqlite", "postgresql"])
def server(request, tmp_path):
    data = tmp_path / "data"
    data.mkdir()
    url, cluster = "", None
    if request.param == "postgresql":
        cluster = postgres.Cluster()
        cluster.start()
        url = cluster.new_database()
    repository = open_repository(data, url)
    fill(repository)
    repository.close()
    server = LiveServer(data, database_url=url)
    server.start()
    yield server
    server.stop()
    if cluster is not None:
        cluster.close()


def _push_for(line: Line, seconds: float, *, keep_cursor: bool = True) -> None:
    until = time.perf_counter() + seconds
    line.connect()
    while time.perf_counter() < until:
        reply = line.exchange(line.facts(BATCH))
        assert sum(verdict["status"] == "ok" for verdict in reply["verdicts"]) == BATCH
        line.n_facts += BATCH
        while keep_cursor and reply["more"]:
            reply = line.exchange()
    line.close()


def measure(server: LiveServer, devices: list[Line], seconds: float) -> dict[str, float]:
    for line in devices:
        line.took_s.clear()
        line.n_facts = 0
    before_s, began = cpu_s(server.process.pid), time.perf_counter()
    threads = [threading.Thread(target=_push_for, args=(line, seconds)) for line in devices]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    wall_s = time.perf_counter() - began
    took_s = [one for line in devices for one in line.took_s]
    return {
        "per_s": len(took_s) / wall_s, "facts_per_s": sum(line.n_facts for line in devices) / wall_s,
        "p50_ms": 1e3 * percentile(took_s, 0.5), "p95_ms": 1e3 * percentile(took_s, 0.95),
        "p99_ms": 1e3 * percentile(took_s, 0.99), "cpu_ms": 1e3 * (cpu_s(server.process.pid) - before_s) / len(took_s),
    }


def show(name: str, found: dict[str, float]) -> None:
    figures = "  ".join(f"{key} {value:.1f}" for key, value in found.items())
    print(f"\n{name}: {figures}  load {os.getloadavg()[0]:.1f}")


def test_durable_exchanges_of_fifty_facts(server):
    devices = lines(server, N_LINES)
    measure(server, devices, 2.0)

    found = max((measure(server, devices, BENCH_S) for _ in range(2)), key=lambda one: one["per_s"])

    show(f"{N_LINES} lines, {BATCH} facts", found)
    assert found["per_s"] >= WANTED_PER_S["postgresql" if server.environment["BRINEBOOK_DATABASE_URL"] else "sqlite"]
    assert found["p99_ms"] <= 1e3 * WANTED_P99_S


def test_an_idle_exchange(server):
    line = lines(server, 1)[0]
    line.connect()
    while line.exchange()["more"]:
        pass
    costs = []
    for _ in range(5):
        before_s = cpu_s(server.process.pid)
        line.took_s.clear()
        for _ in range(400):
            line.exchange()
        costs.append((cpu_s(server.process.pid) - before_s) / 400)
    line.close()

    show("idle", {"cpu_ms": 1e3 * min(costs), "p50_ms": 1e3 * percentile(line.took_s, 0.5)})
    assert min(costs) <= IDLE_BUDGET_S


def test_a_thousand_phones_come_back_at_once(server):
    devices = lines(server, 40)
    repository = open_repository(server.data, server.environment["BRINEBOOK_DATABASE_URL"])
    repository.close()
    herd = [
        Line(server.port, one.token, one.member_id, one.device_id, one.rider_ids)
        for place in range(N_HERD) for one in [devices[place % len(devices)]]
    ]
    problems: list[str] = []
    ready = threading.Barrier(N_HERD + 1)

    def come_back(line: Line) -> None:
        facts = line.facts(20)
        ready.wait()
        try:
            line.connect()
            reply = line.exchange(facts)
            if sum(verdict["status"] == "ok" for verdict in reply["verdicts"]) != 20:
                problems.append("verdicts")
            line.close()
        except (OSError, AssertionError) as problem:
            problems.append(repr(problem)[:200])

    threading.stack_size(256 * 1024)
    threads = [threading.Thread(target=come_back, args=(line,)) for line in herd]
    for thread in threads:
        thread.start()
    ready.wait()
    began = time.perf_counter()
    for thread in threads:
        thread.join()
    took_s = time.perf_counter() - began

    longest_s = max((one for line in herd for one in line.took_s), default=0.0)
    show(f"{N_HERD} at once, 20 facts each", {"all_s": took_s, "longest_s": longest_s, "errors": len(problems)})
    assert problems == []
    assert httpx.get(f"{server.base_url}/api/health").status_code == 200
