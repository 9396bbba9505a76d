"""The server is killed between and during pushes of several phones: nothing is lost, nothing is doubled."""

import json
import os
import random
import sqlite3
import threading
import time

import httpx
import pytest
from brinebook.records.edited import Rider
from brinebook.storage.sql import open_repository
from brinebook.storage.sqlite import FILE_NAME
from support.live import Client, LiveServer

N_PHONES = 4
N_FACTS = 150
N_KILLS = 10 if os.environ.get("BRINEBOOK_LONG") else 3


class StubbornPhone(threading.Thread):
    """Logs facts and sends batches until each has a verdict; a silent server only means: again."""

    def __init__(self, client: Client, seed: int):
        super().__init__(daemon=True)
        self.client = client
        self.random = random.Random(seed)  # noqa: S311 a seeded order, no secret
        self.outbox = {}
        self.acknowledged: dict[str, int] = {}
        self.n_silences = 0
        for _ in range(N_FACTS):
            fact = client.fact("drank", "r1", {"volume_l": 0.1, "how": "level"})
            self.outbox[fact["id"]] = fact
        self.made = dict(self.outbox)

    def run(self) -> None:
        until = time.monotonic() + 120
        while self.outbox and time.monotonic() < until:
            batch = self.random.sample(sorted(self.outbox), min(3, len(self.outbox)))
            try:
                verdicts = self._send([self.outbox[id_] for id_ in batch])
            except (httpx.TransportError, httpx.HTTPStatusError):
                self.n_silences += 1
                time.sleep(0.05)
                continue
            for verdict in verdicts:
                if verdict["status"] in {"ok", "dup"}:
                    self.acknowledged[verdict["id"]] = verdict["seq"]
                    self.outbox.pop(verdict["id"], None)

    def _send(self, facts: list[dict]) -> list[dict]:
        request = {"protocol": 1, "device_id": self.client.device_id, "events": facts, "limit": 1}
        answer = self.client.http.post("/api/exchange", content=json.dumps(request), timeout=5)
        answer.raise_for_status()
        return answer.json()["verdicts"]


@pytest.fixture
def server(tmp_path):
    data = tmp_path / "data"
    data.mkdir()
    server = LiveServer(data)
    yield server
    server.stop()


def _phones(server: LiveServer) -> list[StubbornPhone]:
    secret = server.invite_admin()
    repository = open_repository(server.data)
    team_id = repository.team_ids()[0]
    repository.put_edited(team_id, Rider(id="r1", version=1, name="L", race_number=1))
    repository.close()
    server.start()
    admin = Client(server.base_url, secret)
    clients = [Client(server.base_url, admin.invite(role="car", name=f"Car {place}")) for place in range(N_PHONES)]
    admin.close()
    return [StubbornPhone(client, place) for place, client in enumerate(clients)]


def _stored(server: LiveServer) -> list[tuple[int, str]]:
    with sqlite3.connect(server.data / FILE_NAME) as connection:
        rows = connection.execute("SELECT seq, id FROM event ORDER BY seq").fetchall()
    connection.close()
    return rows


def test_a_server_killed_again_and_again_loses_nothing_and_doubles_nothing(server):
    phones = _phones(server)
    for phone in phones:
        phone.start()

    n_kills = 0
    for kill in range(N_KILLS):
        time.sleep(0.15 + 0.1 * kill)
        server.kill()
        n_kills += 1
        server.start()
    for phone in phones:
        phone.join(timeout=150)
        phone.client.close()

    rows = _stored(server)
    ids = [id_ for _, id_ in rows]
    made = {id_ for phone in phones for id_ in phone.made}
    acknowledged = {id_: seq for phone in phones for id_, seq in phone.acknowledged.items()}
    lost, doubled = len(made - set(ids)), len(ids) - len(set(ids))
    print(f"kills {n_kills}, silences {sum(phone.n_silences for phone in phones)}, lost {lost}, doubled {doubled}")
    assert sum(phone.n_silences for phone in phones) > 0
    assert [len(phone.outbox) for phone in phones] == [0] * N_PHONES
    assert (lost, doubled, set(ids) - made) == (0, 0, set())
    assert [seq for seq, _ in rows] == list(range(1, len(made) + 1))
    assert acknowledged == {id_: seq for seq, id_ in rows}


def test_what_was_not_computed_when_the_server_died_is_computed_at_the_next_start(server):
    phone, *others = _phones(server)
    for other in others:
        other.client.close()
    phone._send(list(phone.made.values())[:5])
    server.kill()
    server.start()

    health = phone.client.http.get("/api/health", params={"wait": "recompute"}).json()

    phone.client.close()
    repository = open_repository(server.data)
    assert health["is_computed"] is True
    assert repository.uncomputed_team_ids() == []
    repository.close()
