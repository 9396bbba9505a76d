"""A server in this process with two teams, one device per role, and a planner that does nothing."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from brinebook import clock
from brinebook.access import invites
from brinebook.app import make_app, make_services
from brinebook.push.sender import SilentPushSender
from brinebook.records.edited import Rider, RiderBody, Team
from brinebook.settings import Settings
from brinebook.storage.sql import SqlRepository, open_repository
from litestar.testing import TestClient
from support import postgres

KEY = b"k" * 32
ROLES = ("soigneur", "car", "physiologist", "coach", "doctor", "admin")
ORIGIN = "https://book.example"


def fill_team(repository: SqlRepository, team_id: str, rider_ids: tuple[str, ...]) -> None:
    """Make a team with riders."""
    repository.add_team(Team(id=team_id, version=1, name=team_id, race_name="Race"))
    for number, rider_id in enumerate(rider_ids, 1):
        repository.put_edited(team_id, Rider(id=rider_id, version=1, name=rider_id, race_number=number))
        body = RiderBody(id=rider_id, version=1, mass_kg=66.0 + number, height_m=1.8, age_years=27, sex="m")
        repository.put_edited(team_id, body)


class Phone:
    """One signed-in device that talks to the app of this process."""

    def __init__(self, http: TestClient, token: str, member: dict, device_id: str):
        self.http, self.token, self.member, self.device_id = http, token, member, device_id
        self.n = 0
        self.cursor: str | None = None
        self.events: dict[str, dict] = {}
        self.documents: dict[str, dict] = {}
        self.last: dict = {}
        self.protocol = 1

    @property
    def headers(self) -> dict[str, str]:
        return {"Authorization": f"Bearer {self.token}"}

    def get(self, path: str, **parameters: str):
        return self.http.get(path, headers=self.headers, params=parameters)

    def post(self, path: str, body: object = None, *, content: bytes | None = None):
        raw = content if content is not None else json.dumps(body or {}).encode()
        return self.http.post(path, headers=self.headers, content=raw)

    def put(self, path: str, body: object):
        return self.http.put(path, headers=self.headers, content=json.dumps(body).encode())

    def fact(self, kind: str, subject_id: str, body: dict | None = None, **changes: object) -> dict:
        self.n += 1
        event = {
            "id": clock.new_id(), "kind": kind, "subject_id": subject_id, "by": self.member["id"], "lamport": self.n,
            "device_id": self.device_id, "n": self.n, "at_ms": clock.now_ms(), "body": body or {},
        }
        return {**event, **changes}

    def request(self, *facts: dict, cursor: str | None = None, limit: int = 500):
        body = {
            "protocol": self.protocol, "device_id": self.device_id, "cursor": cursor, "events": list(facts),
            "limit": limit,
        }
        return self.post("/api/exchange", body)

    def _forget(self, reply: dict) -> None:
        if reply.get("reset"):
            self.events, self.documents = {}, {}
        gone = set(reply.get("drop", []))
        if self.protocol > 1:
            gone |= {event["subject_id"] for _, event in reply["events"] if event["kind"] == "erase"}
        self.events = {id_: event for id_, event in self.events.items() if event["subject_id"] not in gone}
        self.documents = {id_: one for id_, one in self.documents.items() if one["subject_id"] not in gone}

    def exchange(self, *facts: dict, limit: int = 500) -> list[dict]:
        verdicts: list[dict] = []
        outgoing = list(facts)
        for _ in range(1000):
            answer = self.request(*outgoing, cursor=self.cursor, limit=limit)
            assert answer.status_code == 200, answer.text
            reply = self.last = answer.json()
            self._forget(reply)
            self.events |= {event["id"]: event for _, event in reply["events"]}
            for document in reply["documents"]:
                self.documents[document["id"]] = document
            verdicts += reply["verdicts"]
            self.cursor, outgoing = reply["cursor"], []
            if not reply["more"]:
                return verdicts
        raise AssertionError("the pages have no end")


class World:
    """Two teams, ``red`` with riders r1 and r2 and ``blue`` with rider b1, and the running app."""

    def __init__(self, repository: SqlRepository, http: TestClient, services):
        self.repository, self.http, self.services = repository, http, services
        self.sender: SilentPushSender = services.sender

    def phone(self, token: str, member: dict, device_id: str) -> Phone:
        """Give a device that joined earlier."""
        return Phone(self.http, token, member, device_id)

    def join(self, team_id: str, role: str, rider_id: str | None = None, *, key: str | None = None) -> Phone:
        wanted = invites.Wanted(name=f"{role} of {team_id}", role=role, rider_id=rider_id)
        made = invites.invite(self.repository, team_id, wanted)
        body = {"secret": made.secret, "device_name": role, "device_key": key or clock.secret()}
        answer = self.http.post("/api/join", content=json.dumps(body).encode())
        assert answer.status_code == 200, answer.text
        joined = answer.json()
        return Phone(self.http, joined["token"], joined["member"], joined["device_id"])


def open_world(
    folder: Path, *, dist: Path | None = None, compute=lambda *_: None, is_filled: bool = False, url: str = "",
) -> Iterator[World]:
    """Run the app over a fresh data folder, or over one that is filled already."""
    repository = open_repository(folder / "data", url)
    if not is_filled:
        fill_team(repository, "red", ("r1", "r2"))
        fill_team(repository, "blue", ("b1",))
    settings = Settings(data=folder / "data", dist=dist, origin=ORIGIN)
    services = make_services(settings, repository, SilentPushSender(), KEY, compute=compute)
    with TestClient(make_app(services)) as http:
        yield World(repository, http, services)
    repository.close()


def open_world_on(backend: str, folder: Path) -> Iterator[World]:
    """Run the app over a fresh data folder, its store of either kind."""
    with postgres.address(backend) as url:
        yield from open_world(folder, url=url)


@pytest.fixture
def world(tmp_path: Path) -> Iterator[World]:
    yield from open_world(tmp_path)
