"""Any order, repetition and loss of messages ends in the same state everywhere, within what each may see."""

import hashlib
import json
import tempfile
from pathlib import Path

import msgspec
from brinebook import clock
from brinebook.access import invites
from brinebook.access.devices import SignedIn, signed_in
from brinebook.planning.fold import fold
from brinebook.records.facts import Event
from brinebook.records.wire import ExchangeReply, ExchangeRequest
from brinebook.storage.sql import SqlRepository, open_repository
from brinebook.sync.exchange import exchange
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule
from support import postgres
from support.world import KEY, fill_team

BODIES = {
    "drank": {"volume_l": 0.25, "how": "level"},
    "weighed": {"moment": "before", "mass_kg": 66.5},
    "symptom": {"symptom": "cramp"},
    "a_kind_of_tomorrow": {"x": 1},
}
DEVICES = (("red", "rider", "r1"), ("red", "physiologist", None), ("blue", "rider", "b1"))


class Device:
    """A phone without a screen: an outbox that shrinks by verdict only, and what was pulled."""

    def __init__(self, repository: SqlRepository, team_id: str, role: str, rider_id: str | None):
        self.repository, self.team_id = repository, team_id
        made = invites.invite(repository, team_id, invites.Wanted(name=role, role=role, rider_id=rider_id))
        key = clock.secret()
        joined = invites.claim(
            repository, secret_or_code=made.secret, device_name="d", device_key=key, server_key=KEY,
        )
        self.who: SignedIn = signed_in(repository, joined.token)
        self.outbox: dict[str, bytes] = {}
        self.pulled: dict[str, Event] = {}
        self.seen_digest = None
        self.cursor: str | None = None
        self.n = 0

    @property
    def member(self):
        return self.who.member

    def log(self, kind: str, subject_id: str, body: dict, ref: str | None = None) -> Event:
        self.n += 1
        event = {
            "id": clock.new_id(), "kind": kind, "subject_id": subject_id, "by": self.member.id, "device_id": "d",
            "n": self.n, "lamport": self.n, "at_ms": self.n, "body": body,
        }
        raw = json.dumps(event if ref is None else {**event, "ref": ref}).encode()
        decoded = msgspec.json.decode(raw, type=Event)
        self.outbox[decoded.id] = raw
        return decoded

    def call(self, ids: list[str], *, limit: int = 500) -> ExchangeReply:
        raws = [msgspec.Raw(self.outbox[id_]) for id_ in ids]
        request = ExchangeRequest(protocol=1, device_id="d", cursor=self.cursor, events=raws, limit=limit)
        return exchange(self.repository, self.who, request, on_changed=lambda *_: None)

    def apply(self, reply: ExchangeReply) -> None:
        if reply.reset:
            self.pulled = {}
        for pulled in reply.events:
            event = msgspec.json.decode(pulled.event, type=Event)
            self.pulled[event.id] = event
        self.cursor = reply.cursor
        for verdict in reply.verdicts:
            assert verdict.status in {"ok", "dup", "retry"}, verdict
            if verdict.status != "retry":
                self.outbox.pop(verdict.id, None)
        self.seen_digest = reply.digest

    def visible(self) -> dict[str, Event]:
        own = {id_: msgspec.json.decode(raw, type=Event) for id_, raw in self.outbox.items()}
        return {**self.pulled, **own}


def state(events) -> dict[str, bytes]:
    return {id_: bytes(event.body) for id_, event in fold(events).live.items()}


class Convergence(RuleBasedStateMachine):
    """Three devices of two teams; the oracle knows every event ever made."""

    opened = staticmethod(open_repository)

    @initialize()
    def begin(self):
        self.folder = tempfile.TemporaryDirectory()
        self.repository = self.opened(Path(self.folder.name))
        fill_team(self.repository, "red", ("r1", "r2"))
        fill_team(self.repository, "blue", ("b1",))
        self.devices = [Device(self.repository, *device) for device in DEVICES]
        self.made: dict[str, dict[str, Event]] = {"red": {}, "blue": {}}

    @rule(place=st.integers(0, 2), kind=st.sampled_from(sorted(BODIES)), other=st.booleans())
    def log_a_fact(self, place, kind, other):
        device = self.devices[place]
        subject_id = device.member.rider_id or ("r2" if other else "r1")
        if device.member.role == "physiologist" and kind == "symptom":
            kind = "drank"
        event = device.log(kind, subject_id, BODIES[kind])
        self.made[device.team_id][event.id] = event

    def _base(self, team_id: str, event: Event) -> str:
        made = self.made[team_id]
        named = event.ref
        if event.kind in {"link", "unlink"}:
            named = json.loads(bytes(event.body))["a"]
        is_correction = event.kind in {"amend", "void", "link", "unlink"} and named in made
        return self._base(team_id, made[named]) if is_correction else event.kind

    @rule(place=st.integers(0, 2), kind=st.sampled_from(["amend", "void", "link", "unlink"]), data=st.data())
    def correct_what_is_seen(self, place, kind, data):
        device = self.devices[place]
        seen = device.visible()
        bases = {id_: self._base(device.team_id, event) for id_, event in seen.items()}
        # In the order they were made: ids of one millisecond sort by chance, and the same draw must find the same fact.
        made = [id_ for id_ in self.made[device.team_id] if id_ in seen]
        ids = [id_ for id_ in made if kind == "void" or seen[id_].kind == "drank"]
        if device.member.role == "physiologist":
            ids = [id_ for id_ in ids if bases[id_] != "symptom"]
        if not ids:
            return
        target = seen[data.draw(st.sampled_from(ids))]
        ref, body = target.id, {"set": {"volume_l": data.draw(st.sampled_from([0.1, 0.2, 0.3]))}}
        if kind == "void":
            body = {}
        elif kind in {"link", "unlink"}:
            twins = [id_ for id_ in ids if seen[id_].subject_id == target.subject_id and seen[id_].kind == "drank"]
            body = {"a": target.id, "b": data.draw(st.sampled_from(twins)), "keep": target.id}
            ref = None
        event = device.log(kind, target.subject_id, body, ref)
        self.made[device.team_id][event.id] = event

    @rule(place=st.integers(0, 2), data=st.data(), fate=st.sampled_from(["applied", "reply lost", "sent twice"]))
    @precondition(lambda self: any(device.outbox for device in self.devices))
    def push(self, place, data, fate):
        device = self.devices[place]
        order = data.draw(st.permutations(list(device.outbox)))
        ids = order[: data.draw(st.integers(0, len(order)))]
        reply = device.call(ids)
        if fate == "sent twice":
            reply = device.call(ids)
        if fate != "reply lost":
            device.apply(reply)

    @rule(place=st.integers(0, 2), limit=st.integers(1, 3))
    def pull_one_page(self, place, limit):
        self.devices[place].apply(self.devices[place].call([], limit=limit))

    @rule(place=st.integers(0, 2))
    def forget_the_cursor(self, place):
        self.devices[place].cursor = None

    def _drain(self, device: Device) -> None:
        for _ in range(200):
            reply = device.call(list(device.outbox))
            device.apply(reply)
            if not reply.more and not device.outbox:
                return
        raise AssertionError("a device does not come to rest")

    def _scope(self, device: Device) -> dict[str, Event]:
        made = self.made[device.team_id]
        if device.member.rider_id is not None:
            return {id_: event for id_, event in made.items() if event.subject_id == device.member.rider_id}
        hidden = {"symptom", "a_kind_of_tomorrow"}
        return {id_: event for id_, event in made.items() if self._base(device.team_id, event) not in hidden}

    def teardown(self):
        if not hasattr(self, "devices"):
            return
        for device in [*self.devices, *self.devices]:
            self._drain(device)
        for team_id, made in self.made.items():
            rows = self.repository.events_after(team_id, 0, 10_000)
            assert [row.seq for row in rows] == list(range(1, len(made) + 1))
            assert {json.loads(row.raw)["id"] for row in rows} == set(made)
        for device in self.devices:
            self._check(device)
        self.repository.close()
        self.folder.cleanup()
        self.gone()

    def gone(self):
        """Remove what the folder does not hold."""

    def _check(self, device: Device) -> None:
        scope = self._scope(device)
        assert set(device.pulled) == set(scope)
        assert state(device.pulled.values()) == state(scope.values())
        xor64 = 0
        for id_ in scope:
            xor64 ^= int.from_bytes(hashlib.sha256(id_.encode()).digest()[:8], "big")
        assert device.seen_digest is not None
        assert (device.seen_digest.count, int(device.seen_digest.xor64_hex, 16)) == (len(scope), xor64)


TestConvergence = Convergence.TestCase
TestConvergence.settings = settings(
    max_examples=25, stateful_step_count=25, deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


class ConvergenceOnPostgresql(Convergence):
    """The same on PostgreSQL."""

    def opened(self, folder):
        cluster = postgres.shared_or_skip()
        self.url = cluster.new_database()
        return open_repository(folder, self.url)

    def gone(self):
        postgres.shared().drop(self.url)


TestConvergenceOnPostgresql = ConvergenceOnPostgresql.TestCase
TestConvergenceOnPostgresql.settings = settings(TestConvergence.settings, max_examples=6)
