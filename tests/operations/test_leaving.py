"""
A server told to stop: not ready, streams over, what is under way finished, nothing acknowledged lost, exit code 0.

On both databases, with phones that go on pushing until they are cut off, and one in the middle of its push.
"""

import json
import os
import signal
import socket
import subprocess
import sys
import threading
import time

import httpx
import pytest
from access.test_probe_live import Stream
from brinebook.jobs import compute_process, worker_process
from brinebook.serving import FINISH_WITHIN_S
from brinebook.storage.sql import open_repository
from support import postgres
from support.live import ROOT, Client, LiveServer

DRAIN_S = 1.5
ENDS_WITHIN_S = DRAIN_S + FINISH_WITHIN_S + 8.0
"""The last for closing the store and the process beside, on a busy machine."""
N_PHONES, N_BEFORE = 3, 60


@pytest.fixture(params=["sqlite", "postgresql"])
def leaving(request, tmp_path):
    data, more = tmp_path / "data", ("--drain-seconds", str(DRAIN_S))
    if request.param == "sqlite":
        yield from _started(LiveServer(data, more=more), data, "")
        return
    with postgres.database() as url:
        yield from _started(LiveServer(data, database_url=url, more=more), data, url)


def _started(server, data, url):
    data.mkdir()
    server.start()
    admin = Client(server.base_url, server.invite_admin())
    phones = [admin, *(
        Client(server.base_url, admin.invite(name=f"S{n}", role="soigneur")) for n in range(N_PHONES - 1)
    )]
    try:
        yield server, phones, lambda: open_repository(data, url)
    finally:
        server.stop()
        for phone in phones:
            phone.close()


def _fact(phone):
    return phone.fact("stock_counted", phone.team_id, {"item_id": "d", "n_amount": 1})


class Hammer(threading.Thread):
    """Pushes without a rest; keeps the ids of what was acknowledged, and when."""

    def __init__(self, phone):
        super().__init__(daemon=True)
        self.phone, self.acknowledged, self.last_at = phone, [], 0.0

    def run(self):
        try:
            while True:
                facts = [_fact(self.phone) for _ in range(5)]
                self.acknowledged += [one["id"] for one in self.phone.exchange(*facts) if one["status"] == "ok"]
                self.last_at = time.monotonic()
        except httpx.HTTPError:
            return


class HalfAPush:
    """A push on a socket of its own of which only the first half is sent."""

    def __init__(self, server, phone):
        event = _fact(phone)
        self.id = event["id"]
        body = json.dumps({"protocol": 1, "device_id": phone.device_id, "cursor": None, "events": [event]}).encode()
        head = (
            f"POST /api/exchange HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {phone.token}\r\n"
            f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n"
        ).encode()
        self.rest = body[len(body) // 2:]
        self.socket = socket.create_connection(("127.0.0.1", server.port), timeout=20)
        self.socket.sendall(head + body[: len(body) // 2])

    def finish(self):
        self.socket.sendall(self.rest)
        said = b""
        while chunk := self.socket.recv(65536):
            said += chunk
        self.socket.close()
        return said


def test_it_says_so_first_ends_streams_finishes_pushes_loses_nothing_and_ends_in_time(leaving):
    server, phones, reopened = leaving
    stream = Stream(server.base_url, phones[0].token)
    stream.start()
    assert stream.is_open.wait(20)
    hammers = [Hammer(phone) for phone in phones]
    for hammer in hammers:
        hammer.start()
    until = time.monotonic() + 60
    while time.monotonic() < until and sum(len(one.acknowledged) for one in hammers) < N_BEFORE:
        time.sleep(0.02)
    half, process = HalfAPush(server, phones[0]), server.process

    began = time.monotonic()
    process.send_signal(signal.SIGTERM)
    statuses = []
    while time.monotonic() < began + DRAIN_S / 2:
        statuses.append(httpx.get(f"{server.base_url}/api/ready", timeout=10).status_code)
    time.sleep(max(0.0, began + DRAIN_S + 0.3 - time.monotonic()))
    said = half.finish()
    code = process.wait(timeout=ENDS_WITHIN_S)
    took_s = time.monotonic() - began
    server.process = None
    for hammer in hammers:
        hammer.join(timeout=60)

    assert statuses[-1] == 503
    assert stream.is_over.wait(5)
    assert "broken" not in stream.lines
    assert said.startswith(b"HTTP/1.1 200")
    assert f'"id":"{half.id}","status":"ok"'.encode() in said
    assert max(hammer.last_at for hammer in hammers) > began
    assert code == 0
    assert took_s < ENDS_WITHIN_S
    acknowledged = [half.id, *(id_ for hammer in hammers for id_ in hammer.acknowledged)]
    repository = reopened()
    kept = repository.known_events(phones[0].team_id, acknowledged)
    repository.close()
    assert len(acknowledged) > N_BEFORE
    assert set(acknowledged) - set(kept) == set()
    print(f"{len(acknowledged)} facts acknowledged, 0 lost, ended after {took_s:.1f} s")


def test_a_second_word_cuts_the_waiting_short(tmp_path):
    server = LiveServer(tmp_path / "data", more=("--drain-seconds", "600"))
    server.start()
    process = server.process
    process.send_signal(signal.SIGTERM)
    until = time.monotonic() + 20
    while time.monotonic() < until and httpx.get(f"{server.base_url}/api/ready", timeout=10).status_code == 200:
        time.sleep(0.02)
    process.send_signal(signal.SIGTERM)

    assert process.wait(timeout=ENDS_WITHIN_S) == 0
    server.process = None


SAYING = """
import logging, sys
from brinebook import __main__ as program
def say(*_, **__):
    logging.getLogger("brinebook.jobs").warning("at work")
    try:
        float("66.1373 kg")
    except ValueError:
        logging.getLogger("brinebook.jobs").exception("it failed")
program.run_worker = program.answer_all = say
sys.exit(program.main(sys.argv[1:]))
"""
"""The program with one thing changed: what a process beside does is to log."""


@pytest.mark.parametrize("command_for", [compute_process.command_for, worker_process.command_for])
def test_the_processes_beside_log_in_the_form_of_the_server(tmp_path, command_for):
    program, *arguments = [word for word in command_for(tmp_path, "json") if word not in {"-m", "brinebook"}]
    with postgres.database() as url:
        done = subprocess.run(
            [program, "-c", SAYING, *arguments], cwd=ROOT, env={**os.environ, "BRINEBOOK_DATABASE_URL": url},
            stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False,
        )
    said, failed = (json.loads(line) for line in done.stderr.splitlines())

    assert done.returncode == 0
    assert (said["message"], said["logger"], said["level"]) == ("at work", "brinebook.jobs", "warning")
    assert failed["error"] == "ValueError"
    assert "66.1373" not in done.stderr


def test_compute_answers_a_line_it_cannot_read_and_logs_nothing_of_it(tmp_path):
    command = compute_process.command_for(tmp_path, "json")
    done = subprocess.run(command, cwd=ROOT, input=b'{"mass_kg": 66.1373}\n', capture_output=True, check=False)

    assert done.returncode == 0, sys.executable
    assert b"66.1373" not in done.stdout + done.stderr
    assert [json.loads(line) for line in done.stderr.splitlines()] == []
