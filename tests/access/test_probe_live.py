"""
The live stream: every role and another team, with marks in every record; and what becomes of it when rights end.

A stream tells that there is news and nothing of what the news are. It runs on a server of its own process, on either
database, since only there it is a stream.
"""

import json
import threading
import time
from dataclasses import dataclass

import httpx
import pytest
from brinebook.access import invites
from brinebook.records.edited import Member
from brinebook.storage.sql import open_repository
from support import postgres
from support.live import Client, LiveServer
from support.team import put
from support.world import ROLES

MARK = "canary-1f4e"
ENDS_WITHIN_S = 1.0
"""At once, on a busy machine; without a word from anybody the stream looks every 5 s by itself."""
LOOKS_WITHIN_S = 10.0


class Stream(threading.Thread):
    """Listens as somebody and keeps every line; ``is_over`` when the server ended it."""

    def __init__(self, base_url: str, token: str):
        super().__init__(daemon=True)
        self.base_url, self.token = base_url, token
        self.lines: list[str] = []
        self.status = 0
        self.is_open, self.is_over = threading.Event(), threading.Event()

    def run(self):
        headers = {"Authorization": f"Bearer {self.token}"}
        try:
            with httpx.stream("GET", f"{self.base_url}/api/live", headers=headers, timeout=40) as stream:
                self.status = stream.status_code
                for line in stream.iter_lines():
                    self.lines.append(line)
                    self.is_open.set()
        except httpx.TransportError:
            self.lines.append("broken")
        self.is_over.set()

    def heads(self):
        return [json.loads(line[5:])["head"] for line in self.lines if line.startswith("data:")]


@dataclass
class Live:
    """A server, its admin, a phone per role, and a repository beside the server's own."""

    server: LiveServer
    admin: Client
    phones: dict[str, Client]
    repository: object

    def listen(self, token):
        stream = Stream(self.server.base_url, token)
        stream.start()
        assert stream.is_open.wait(20), stream.status
        return stream

    def write(self):
        """Add a fact and an edit that hold the mark."""
        body = {"moment": "before", "mass_kg": 66.2, "canary": MARK}
        assert self.admin.exchange(self.admin.fact("weighed", "r2", body))[0]["status"] == "ok"

    def fresh(self, role, **wanted):
        secret = self.admin.invite(role=role, name=f"{MARK} {role}", **wanted)
        return Client(self.server.base_url, secret)


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def live(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("live") / "data"
    folder.mkdir()
    if request.param == "sqlite":
        yield from _running(LiveServer(folder), folder, "")
        return
    with postgres.database() as url:
        yield from _running(LiveServer(folder, database_url=url), folder, url)


def _running(server, folder, url):
    server.start()
    admin = Client(server.base_url, server.invite_admin())
    for number in (1, 2):
        put(admin, "riders", {"id": f"r{number}", "name": f"{MARK} r{number}", "race_number": number})
    made = Live(server, admin, {}, open_repository(folder, url))
    for role in ROLES:
        made.phones[role] = made.fresh(role)
    made.phones |= {"rider": made.fresh("rider", rider_id="r1"), "mate": made.fresh("rider", rider_id="r2")}
    try:
        yield made
    finally:
        made.repository.close()
        admin.close()
        for phone in made.phones.values():
            phone.close()
        server.stop()


def _is_over_within(stream, seconds):
    return stream.is_over.wait(seconds)


def test_every_role_hears_that_there_is_news_and_nothing_of_it(live):
    streams = {role: live.listen(phone.token) for role, phone in live.phones.items()}
    before = {role: max(stream.heads()) for role, stream in streams.items()}
    live.write()
    until = time.monotonic() + 20
    while time.monotonic() < until and any(max(one.heads()) == before[role] for role, one in streams.items()):
        time.sleep(0.02)

    for role, stream in streams.items():
        assert max(stream.heads()) > before[role], role
        said = {line.split(":", 1)[0] for line in stream.lines if line}
        assert said <= {"event", "data", ""}, (role, stream.lines)
        assert all(set(json.loads(line[5:])) == {"head"} for line in stream.lines if line.startswith("data:"))
        assert MARK not in "\n".join(stream.lines)


@pytest.mark.parametrize("token", ["a" * 64, "nonsense"])
def test_nobody_hears_nothing(live, token):
    answer = httpx.get(f"{live.server.base_url}/api/live", headers={"Authorization": f"Bearer {token}"}, timeout=20)

    assert (answer.status_code, answer.json()["code"]) == (401, "not_signed_in")


@pytest.mark.parametrize("how", ["signed out", "signed out everywhere", "by a command"])
def test_a_stream_ends_at_once_when_its_phone_is_signed_out(live, how):
    phone = live.fresh("coach")
    stream = live.listen(phone.token)
    if how == "signed out":
        assert live.admin.http.delete(f"/api/devices/{phone.device_id}").status_code == 204
    elif how == "signed out everywhere":
        assert live.admin.http.delete(f"/api/team/members/{phone.member['id']}/devices").status_code == 204
    else:
        device = live.repository.device(live.admin.team_id, phone.device_id)
        live.repository.put_device(type(device)(**{
            name: getattr(device, name) for name in device.__struct_fields__ if name != "is_revoked"
        }, is_revoked=True))

    assert _is_over_within(stream, LOOKS_WITHIN_S if how == "by a command" else ENDS_WITHIN_S)
    n_lines = len(stream.lines)
    live.write()
    assert len(stream.lines) == n_lines
    assert "broken" not in stream.lines
    again = Stream(live.server.base_url, phone.token)
    again.start()
    assert again.is_over.wait(20)
    assert again.status == 403
    phone.close()


def test_a_stream_ends_when_its_person_gets_another_role_and_comes_back_with_the_new_one(live):
    phone = live.fresh("doctor")
    stream = live.listen(phone.token)
    was = live.repository.member(live.admin.team_id, phone.member["id"])
    live.repository.put_member(live.admin.team_id, Member(
        id=was.id, version=was.version + 1, name=was.name, role="coach",
    ))

    assert _is_over_within(stream, LOOKS_WITHIN_S)
    again = live.listen(phone.token)
    assert again.heads()
    phone.exchange()
    assert not [one for one in phone.events.values() if one["kind"] == "weighed"]
    phone.close()


def test_a_stream_opened_with_a_stolen_token_ends_when_the_owner_changes_it(live):
    phone = live.fresh("physiologist")
    stream = live.listen(phone.token)
    token = phone.http.post("/api/me/token").json()["token"]
    renewed = live.listen(token)

    assert _is_over_within(stream, LOOKS_WITHIN_S)
    assert not renewed.is_over.is_set()
    phone.close()


def test_a_team_never_hears_another(live):
    phone = live.fresh("soigneur")
    stream = live.listen(phone.token)
    other = type(live.repository.team(live.admin.team_id))(id="other", version=1, name="Other", race_name="Race")
    if "other" not in live.repository.team_ids():
        live.repository.add_team(other)
    wanted = invites.Wanted(name="Stranger", role="admin")
    stranger = Client(live.server.base_url, invites.invite(live.repository, "other", wanted).secret)
    put(stranger, "riders", {"id": "x1", "name": MARK, "race_number": 1})
    elsewhere = live.listen(stranger.token)
    assert max(elsewhere.heads()) == 0
    n_lines = len(stream.lines)
    assert stranger.exchange(stranger.fact("weighed", "x1", {"moment": "before", "mass_kg": 66.2}))[0]["status"] == "ok"
    until = time.monotonic() + 20
    while time.monotonic() < until and max(elsewhere.heads()) == 0:
        time.sleep(0.02)

    assert max(elsewhere.heads()) == 1
    assert stream.lines[n_lines:] == []
    stranger.close()
    phone.close()
