"""Real servers: a screen hears of a fact well within a second, on one server and across two that share a database."""

import json
import threading
import time

import httpx
import pytest
from support import postgres
from support.live import Client, LiveServer
from support.team import put

REPAINT_S = 1.0
PHONE_WAITS_S = 0.4
"""How long a phone gathers news before it exchanges (``AFTER_FACT_MS`` in ``pwa/src/sync/when.ts``)."""


@pytest.fixture(params=["one server", "two servers"])
def servers(request, tmp_path):
    data = tmp_path / "data"
    data.mkdir()
    if request.param == "one server":
        server = LiveServer(data)
        server.start()
        yield server, server
        server.stop()
        return
    with postgres.database() as url:
        pair = LiveServer(data, database_url=url), LiveServer(data, database_url=url)
        for server in pair:
            server.start()
        yield pair
        for server in pair:
            server.stop()


class Screen(threading.Thread):
    """Listens to the live head and notes when each came."""

    def __init__(self, server: LiveServer, token: str):
        super().__init__(daemon=True)
        self.server, self.token = server, token
        self.heard: dict[int, float] = {}
        self.lines: list[str] = []
        self.is_open = threading.Event()

    def run(self):
        headers = {"Authorization": f"Bearer {self.token}"}
        try:
            with httpx.stream("GET", f"{self.server.base_url}/api/live", headers=headers, timeout=30) as stream:
                for line in stream.iter_lines():
                    self.lines.append(line)
                    if line.startswith("data:"):
                        self.heard.setdefault(json.loads(line[5:])["head"], time.monotonic())
                        self.is_open.set()
        except httpx.TransportError:
            return


def test_a_fact_reaches_an_open_screen_within_a_second(servers):
    here, there = servers
    admin = Client(here.base_url, here.invite_admin())
    put(admin, "riders", {"id": "r1", "name": "L. Aalto", "race_number": 1})
    desk = Client(there.base_url, admin.invite(role="coach", name="Coach"))
    screen = Screen(there, desk.token)
    screen.start()
    assert screen.is_open.wait(20)
    admin.settled()
    times_s = []

    for _ in range(5):
        admin.exchange(admin.fact("drank", "r1", {"volume_l": 0.2, "how": "level"}))
        head, began = admin.n, time.monotonic()
        while head not in screen.heard and time.monotonic() < began + 10:
            time.sleep(0.005)
        heard_s = max(0.0, screen.heard[head] - began)
        asked = time.monotonic()
        desk.exchange()
        times_s.append(heard_s + PHONE_WAITS_S + time.monotonic() - asked)

    told = {line.split(":", 1)[0] for line in screen.lines if line}
    assert len([event for event in desk.events.values() if event["kind"] == "drank"]) == 5
    assert told <= {"event", "data", ""}
    assert all(set(json.loads(line[5:])) == {"head"} for line in screen.lines if line.startswith("data:"))
    assert sorted(times_s)[2] < REPAINT_S, times_s
    print("seconds from commit to what a screen shows:", [round(one, 2) for one in times_s])
    admin.close()
    desk.close()
