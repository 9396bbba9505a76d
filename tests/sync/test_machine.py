"""
Phones of two teams and everything that may happen to them, chosen by Hypothesis and shrunk when it finds a fault.

The rules of ``tests/support/chaos`` without processes and time: the phones are the harness's, the exchange is the real
one, called in this process. ``BRINEBOOK_EXAMPLES`` asks for more.
"""

import json
import os
import tempfile
from contextlib import suppress
from pathlib import Path

import msgspec
from brinebook import clock
from brinebook.access import invites
from brinebook.access.devices import revoke, signed_in
from brinebook.access.errors import DeviceRevoked, NotSignedIn
from brinebook.records.wire import ExchangeRequest
from brinebook.storage.backup import backup
from brinebook.storage.ledger import Erasure, write_down
from brinebook.storage.rows import table
from brinebook.storage.sql import SqlRepository, open_repository
from brinebook.sync.erase import erase_subject
from brinebook.sync.exchange import exchange
from brinebook.sync.restore import restore
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule
from support.chaos.phone import Phone, Silent, SwitchedOff, Who
from support.chaos.report import BAD, Report
from support.chaos.tally import Tally
from support.chaos.world import RIDERS, WRITES, User, World, body_of
from support.world import KEY, fill_team

CAST = (
    ("red", "rider", "r1"), ("red", "car", None), ("red", "soigneur", None), ("red", "doctor", None),
    ("blue", "rider", "b1"),
)
FATES = ("answered", "request lost", "reply lost", "doubled", "late")
MOST_PHONES = 8
DAY_MS = 24 * 3_600_000
N_EXAMPLES = int(os.environ.get("BRINEBOOK_EXAMPLES", "8"))


class Store:
    """A store that is opened once and may be put back to an older state."""

    def __init__(self, folder: Path):
        self.data = folder / "data"
        self.opened = open_repository(self.data)
        self.dump: Path | None = None
        self.n_dumps = 0

    def repository(self) -> "Borrowed":
        return Borrowed(self.opened)

    def take_dump(self) -> None:
        self.n_dumps += 1
        self.dump = self.data.parent / f"dump-{self.n_dumps}.sqlite3"
        backup(self.opened, self.dump)

    def put_back(self, *, is_announced: bool) -> None:
        epoch = self.opened.epoch()
        self.opened.close()
        restore(self.data, "", self.dump)
        if not is_announced:
            renamed = open_repository(self.data)
            store = table("store")
            with renamed.database.writing() as connection:
                connection.execute(store.update().where(store.c.name == "epoch").values(value=epoch))
            renamed.close()
        self.opened = open_repository(self.data)


class Borrowed:
    """The opened repository to whoever thinks that it must be closed."""

    def __init__(self, repository: SqlRepository):
        self._repository = repository

    def __getattr__(self, name: str):
        return getattr(self._repository, name)

    def close(self) -> None:
        """Leave it open."""


class LocalPhone(Phone):
    """A phone whose network is a call; each request has the fate that the rule drew."""

    def __init__(self, world: "LocalWorld", name: str, who: Who, seed: int):
        super().__init__(name, who, 0, seed=seed)
        self.world, self.fate = world, "answered"

    def clone(self, name: str, seed: int) -> "LocalPhone":
        twin = LocalPhone(self.world, name, self.who, seed)
        twin.disk = super().clone(name, seed).disk
        return twin

    def _post(self, events, cursor):
        fate, self.fate = self.fate, "answered"
        request = json.loads(json.dumps(self.request(events, cursor, limit=self.world.limit)))
        if fate == "late":
            self.world.late.append((self.who, request))
        if fate in {"request lost", "late"}:
            raise Silent
        answer = self.world.answer(self.who, request)
        if fate == "doubled":
            answer = self.world.answer(self.who, request)
        if fate == "reply lost":
            raise Silent
        return answer


class LocalWorld(World):
    """The harness's world without a server process."""

    def __init__(self, folder: Path):
        self.host = Store(folder)
        self.tally, self.answer_s, self.users, self.late = Tally(), [], [], []
        self.limit, self.n_absent = 500, 0
        for team_id, rider_ids in RIDERS.items():
            fill_team(self.host.opened, team_id, rider_ids)
        for place, (team_id, role, rider_id) in enumerate(CAST):
            self.add(LocalPhone(self, f"{role} {place}", self._who(team_id, role, rider_id), place))

    def _who(self, team_id: str, role: str, rider_id: str | None) -> Who:
        secret = self._invited(self.host.opened, team_id, role, rider_id)
        joined = invites.claim(
            self.host.opened, secret_or_code=secret, device_name=role, device_key=clock.secret(), server_key=KEY,
        )
        return Who(team_id, joined.member.id, joined.device.id, joined.token, role, rider_id)

    def add(self, phone: Phone) -> None:
        self.users.append(User(phone, self))

    def answer(self, who: Who, request: dict) -> tuple[int, dict]:
        """Do what the doorway does."""
        asked = msgspec.json.decode(json.dumps(request).encode(), type=ExchangeRequest)
        try:
            known = signed_in(self.host.opened, who.token)
            reply = exchange(self.host.opened, known, asked, on_changed=lambda *_: None)
        except NotSignedIn:
            return 401, {}
        except DeviceRevoked:
            return 403, {"code": "revoked"}
        return 200, json.loads(msgspec.json.encode(reply))


class Machine(RuleBasedStateMachine):
    """Everything that may happen, in any order."""

    @initialize()
    def begin(self):
        self.folder = tempfile.TemporaryDirectory()
        self.world = LocalWorld(Path(self.folder.name))
        self.may_refetch = False
        self.ever_read = {phone.who.member_id: {phone.who.role} for phone in self.world.phones()}

    def _phone(self, place: int) -> Phone:
        phones = self.world.phones()
        return phones[place % len(phones)]

    @rule(place=st.integers(0, 7), n_facts=st.integers(1, 4), data=st.data())
    def note(self, place, n_facts, data):
        phone = self._phone(place)
        for _ in range(n_facts):
            own = [id_ for id_, fact in phone.told.items() if fact["kind"] != "void"]
            if own and data.draw(st.booleans()):
                fact = phone.told[data.draw(st.sampled_from(own))]
                phone.log("void", fact["subject_id"], {}, ref=fact["id"])
            else:
                kind = data.draw(st.sampled_from(WRITES[phone.who.role]))
                subject = phone.who.rider_id or data.draw(st.sampled_from(RIDERS[phone.who.team_id]))
                phone.log(kind, subject, body_of(kind, phone.random))

    @rule(place=st.integers(0, 7), fate=st.sampled_from(FATES), limit=st.sampled_from([1, 3, 500]))
    def pass_on(self, place, fate, limit):
        phone, self.world.limit = self._phone(place), limit
        phone.fate = fate
        with suppress(Silent):
            phone.exchange()

    @rule(place=st.integers(0, 7), writes=st.booleans())
    def die_in_a_write(self, place, writes):
        phone = self._phone(place)
        phone.dies_with_probability = 1.0
        with suppress(SwitchedOff, Silent):
            if writes:
                phone.log("drank", phone.who.rider_id or RIDERS[phone.who.team_id][0], body_of("drank", phone.random))
            else:
                phone.exchange()
        phone.dies_with_probability = 0.0

    @precondition(lambda self: self.world.late)
    @rule()
    def deliver_late(self):
        self.world.answer(*self.world.late.pop())

    @rule(place=st.integers(0, 7), days=st.integers(-40, 40))
    def jump_the_clock(self, place, days):
        self._phone(place).clock_error_ms = days * DAY_MS

    @precondition(lambda self: len(self.world.users) < MOST_PHONES)
    @rule(place=st.integers(0, 7))
    def clone_a_phone(self, place):
        self.world.add(self._phone(place).clone("clone", place))

    @rule()
    def take_a_dump(self):
        self.world.host.take_dump()

    @precondition(lambda self: self.world.host.dump is not None)
    @rule(is_announced=st.booleans())
    def put_the_dump_back(self, is_announced):
        self.may_refetch = True
        self.world.host.put_back(is_announced=is_announced)
        for phone in self.world.phones():
            phone.acknowledged = set()

    @rule(role=st.sampled_from(["car", "soigneur", "physiologist", "coach"]))
    def change_a_scope(self, role):
        phone = next(phone for phone in self.world.phones() if phone.who.role == "soigneur")
        repository = self.world.host.opened
        self.ever_read[phone.who.member_id].add(role)
        member = repository.member("red", phone.who.member_id)
        repository.put_member("red", msgspec.structs.replace(member, role=role))

    @rule()
    def revoke_the_doctor(self):
        phone = next(phone for phone in self.world.phones() if phone.who.role == "doctor")
        revoke(self.world.host.opened, "red", phone.who.device_id)

    @rule()
    def erase_a_rider(self):
        erasure = Erasure(team_id="red", subject_id="r2", erased_at_ms=1)
        erase_subject(
            self.world.host.opened, erasure, write_down=lambda one: write_down(self.world.host.data, [one]),
        )

    def teardown(self):
        if not hasattr(self, "world"):
            return
        self.world.limit = 500
        report = Report(seed=0, backend="sqlite")
        self.world.drained(20.0)
        self.world.judge(report, may_refetch=self.may_refetch, ever_read=self.ever_read)
        self.world.host.opened.close()
        self.folder.cleanup()
        assert {name: report.bad[name] for name in BAD if report.bad[name]} == {}
        assert report.notes == []


TestMachine = Machine.TestCase
TestMachine.settings = settings(
    max_examples=N_EXAMPLES, stateful_step_count=25, deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
