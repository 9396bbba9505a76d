"""
Every endpoint x role x relation x record type, with a canary in every record: none comes out where it must not.

On PostgreSQL a few roles stand for the others (``conftest.py``); ``BRINEBOOK_LONG=1`` asks as all of them there, too.
"""

import io
import json
import re
import uuid
import zipfile

import pypdfium2
import pytest
from access.test_disclosure import BODIES, DOCUMENTS, EVERYBODY, FACTS, OWN_IS_HIDDEN, WRITERS
from brinebook.access import disclosure
from brinebook.api.routes import desk, sheets, tables, why
from brinebook.app import everything
from brinebook.files import copies
from brinebook.planning.recompute import recompute
from brinebook.push.sender import Sentence
from brinebook.sheets import printing
from brinebook.storage.repository import NewDocument
from planning.fakes import Facts, stages_of, team
from support import postgres
from support.world import ROLES, open_world

RIDERS = ("r1", "r2")
CANARY = re.compile(r"canary~([a-z_]+)~([a-z0-9]*)~(red|blue)")
DERIVED = {
    "profile", "stage_forecast", "stage_plan", "settlement", "evening_drink", "forecast_audit", "prep_sheet", "stock",
    "bottle_sheet", "plan_summary", "forecast_summary", "settlement_summary",
}
OPEN_TO_NOBODY = {
    "/api/join", "/api/passkeys/options", "/api/passkeys/sign-in", "/api/health", "/api/ready", "/metrics", "/",
    "/{path:path}",
}
SUBJECTS_OF_PATHS = ("r1", "r2", "b1", "s1")
TABLES = ("settled", "facts", "plans", "all", "nonsense")


def _mark(type_, subject_id, team_id="red"):
    return f"canary~{type_}~{subject_id}~{team_id}"


class Probed:
    """A team with a raced stage; every fact and every stored document carries a mark that says what it is."""

    def __init__(self, world):
        self.world = world
        self._race()
        self.phones = {role: world.join("red", role) for role in ROLES}
        self.phones |= {"rider": world.join("red", "rider", "r1"), "mate": world.join("red", "rider", "r2")}
        self.foreign = world.join("blue", "admin")
        for phone in self.phones.values():
            phone.protocol = 2
            keys = {"p256dh": "B" * 87, "auth": "A" * 22}
            body = {"endpoint": f"https://fcm.googleapis.com/{phone.device_id}", "keys": keys}
            assert phone.post("/api/push-subscription", body).status_code == 200
        for kind, body in BODIES.items():
            for subject_id in RIDERS:
                phone = self.phones["doctor" if kind == "symptom" else "admin"]
                event = phone.fact(kind, subject_id, {**body, "canary": _mark(kind, subject_id)}, stage_id="s1")
                assert phone.exchange(event)[0]["status"] == "ok", kind
        self._mark_documents()
        self.n_probes = 0

    def _race(self):
        memory, _ = team(n_stages=2, n_riders=2)
        repository = self.world.repository
        for record in memory.edited_records.values():
            repository.put_edited("red", record)
        for index, rider_id in enumerate(RIDERS):
            rider = repository.all_edited("red", type(memory.edited_records["Rider", rider_id]))[index]
            repository.put_edited("red", type(rider)(
                id=rider.id, version=2, name=f"Pelagrin-{rider.id}", race_number=rider.race_number,
            ))
        writer = Facts(memory)
        for rider_id in RIDERS:
            writer.ride_a_stage(rider_id, stages_of(memory)["s1"], before_kg=68.0, after_kg=66.4, agreed_l=2.9)
        self.ridden = memory.facts

    def _mark_documents(self):
        admin = self.phones["admin"]
        for event in self.ridden:
            body = {**json.loads(bytes(event.body)), "canary": _mark(event.kind, event.subject_id)}
            fact = admin.fact(event.kind, event.subject_id, body, stage_id=event.stage_id, at_ms=event.at_ms)
            assert admin.exchange(fact)[0]["status"] == "ok"
        recompute(self.world.repository, "red", everything(self.world.repository, "red"))
        for team_id in ("red", "blue"):
            self.world.repository.put_documents(team_id, [
                NewDocument(
                    id=one.id, type=one.type, subject_id=one.subject_id, body=json.dumps(
                        {**json.loads(one.body), "canary": _mark(one.type, one.subject_id.replace("-", ""), team_id)},
                    ).encode(),
                )
                for one in self.world.repository.documents(team_id)
            ])

    def paths(self):
        """List every signed-in route with every subject in every place of its path."""
        for route in self.world.http.app.routes:
            if route.path in OPEN_TO_NOBODY or not hasattr(route, "methods"):
                continue
            for method in sorted(route.methods - {"OPTIONS", "HEAD"}):
                names = re.findall(r"\{(\w+):\w+\}", route.path)
                for subject in SUBJECTS_OF_PATHS if names else ("",):
                    yield method, re.sub(r"\{\w+:\w+\}", subject, route.path)

    def call(self, phone, method, path, body=None, **parameters):
        self.n_probes += 1
        answer = self.world.http.request(
            method, path, params=parameters, content=json.dumps(body if body is not None else {}).encode(),
            headers={} if phone is None else phone.headers,
        )
        assert answer.status_code < 500 or answer.status_code == 503, (method, path, answer.text)
        return answer

    @property
    def has_net(self):
        """Tell whether the database filters by itself."""
        return bool(getattr(self.world.repository.database.backend, "has_second_net", False))

    def fetched(self, phone):
        """Read everything anew; answer with all of it."""
        phone.protocol, phone.cursor, phone.events, phone.documents = 2, None, {}, {}
        phone.exchange()
        return json.dumps([*phone.events.values(), *phone.documents.values()])

    def marks(self, answer):
        """Find the marks in an answer, or in what a packed one holds."""
        if isinstance(answer, str):
            return set(CANARY.findall(answer))
        if answer.headers.get("content-type", "") == "application/zip":
            with zipfile.ZipFile(io.BytesIO(answer.content)) as packed:
                return {mark for name in packed.namelist() for mark in CANARY.findall(packed.read(name).decode())}
        return set(CANARY.findall(self.text_of(answer)))

    @staticmethod
    def text_of(answer):
        if answer.headers.get("content-type", "").startswith("application/pdf"):
            pages = pypdfium2.PdfDocument(io.BytesIO(answer.content))
            try:
                return "\n".join(page.get_textpage().get_text_bounded() for page in pages)
            finally:
                pages.close()
        return answer.content.decode("utf-8", errors="replace")


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def probed(request, tmp_path_factory):
    """Two teams full of marks; what a copy prints is looked at before it is packed into a PDF, whose text is not."""
    folder = tmp_path_factory.mktemp("probe")
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(copies, "pdf_apart", lambda html: html.encode())
        if request.param == "sqlite":
            for world in open_world(folder):
                yield Probed(world)
            return
        with postgres.database() as url:
            for world in open_world(folder, url=url):
                yield Probed(world)


def allowed(role, type_, subject_id):
    """Say by the page of the test, not by the table under test, whether a record may reach a role."""
    table = FACTS if type_ in FACTS else DOCUMENTS
    is_own = (role == "rider" and subject_id == "r1") or (role == "mate" and subject_id == "r2")
    as_role = "rider" if role == "mate" else role
    return as_role in table.get(type_, set()) or (is_own and (type_ in FACTS or type_ not in OWN_IS_HIDDEN))


def leaks(role, text):
    return {match for match in CANARY.findall(text) if match[2] != "red" or not allowed(role, *match[:2])}


ALL = sorted(EVERYBODY | {"mate"})


def test_every_type_is_there_to_be_leaked(probed):
    stored = {one.type for one in probed.world.repository.documents("red")}
    doctor, admin = probed.phones["doctor"], probed.phones["admin"]
    doctor.exchange(), admin.exchange(), probed.phones["coach"].exchange()
    seen = set(CANARY.findall(json.dumps([*doctor.events.values(), *doctor.documents.values()])))

    assert stored >= DERIVED | {"team", "member", "rider", "rider_body", "stage", "drink", "food"}
    assert {("weighed", "r2", "red"), ("symptom", "r1", "red"), ("profile", "r2", "red")} <= seen
    assert len(seen) > 60


@pytest.mark.parametrize("role", ALL)
def test_the_exchange_brings_no_mark_that_is_not_for_the_role(probed, role):
    phone = probed.phones[role]
    for protocol in (1, 2):
        phone.protocol, phone.cursor = protocol, None
        phone.exchange()
        text = json.dumps([*phone.events.values(), *phone.documents.values()])

        assert leaks(role, text) == set()
        assert CANARY.search(text)


@pytest.mark.parametrize("role", [*ALL, "foreign", "nobody"])
def test_no_endpoint_answers_with_a_mark_that_is_not_for_the_role(probed, role):
    phone = {**probed.phones, "foreign": probed.foreign, "nobody": None}[role]
    found = set()
    for method, path in probed.paths():
        if path.startswith(("/api/live", "/api/exchange")) or "/sheets/" in path:
            continue
        answer = probed.call(phone, method, path)
        if role == "nobody":
            assert answer.status_code == 401, path
        found |= {(path, mark) for mark in CANARY.findall(answer.text) if role in {"foreign", "nobody"}}
        found |= {(path, mark) for mark in leaks(role, probed.text_of(answer))} if role in ALL else set()

    assert found == set()
    assert probed.n_probes > 60


@pytest.mark.parametrize("role", [*ALL, "foreign"])
def test_why_opens_only_what_the_role_may_read_whatever_the_id(probed, role):
    phone = {**probed.phones, "foreign": probed.foreign}[role]
    for one in probed.world.repository.documents("red"):
        status = probed.call(phone, "GET", f"/api/why/{one.id}").status_code
        may = role != "foreign" and (allowed(role, one.type, one.subject_id) or (
            one.type == "member" and one.subject_id == phone.member["id"]))
        assert (status == 200) == may, one.id


@pytest.mark.parametrize("role", [*ALL, "foreign"])
def test_exports_are_for_those_who_read_bodies(probed, role):
    phone = {**probed.phones, "foreign": probed.foreign}[role]
    for table in TABLES:
        for form in ("csv", "json", "xlsx", "parquet"):
            answer = probed.call(phone, "GET", f"/api/export/{table}", form=form)
            if role not in {"physiologist", "doctor", "admin", "foreign"}:
                assert answer.status_code == 403
            assert b"canary~symptom" not in answer.content or role == "doctor"
            assert role != "foreign" or (b"r1" not in answer.content and b"Pelagrin" not in answer.content)


@pytest.mark.parametrize("role", [*ALL, "foreign"])
def test_prints_show_nobody_whose_body_the_role_may_not_see(probed, role):
    phone = {**probed.phones, "foreign": probed.foreign}[role]
    other = {"rider": "r2", "mate": "r1"}.get(role)
    for sheet in ("prep", "labels", "cards", "report"):
        answer = probed.call(phone, "GET", f"/api/stages/s1/sheets/{sheet}")
        is_of_bodies = sheet in {"cards", "report"}
        if role == "foreign" or (role in {"soigneur", "car", "coach"} and is_of_bodies) or (other and not is_of_bodies):
            assert answer.status_code == 404
        elif answer.status_code == 200:
            assert leaks(role, probed.text_of(answer)) == set()
            assert f"Pelagrin-{other}" not in probed.text_of(answer)
    assert role not in {"physiologist", "doctor", "admin"} or answer.status_code in {200, 503}


@pytest.mark.parametrize("role", ALL)
def test_facts_about_others_and_other_teams_are_refused(probed, role):
    phone = probed.phones[role]
    for kind, body in BODIES.items():
        for subject_id in (*RIDERS, "b1"):
            verdict = phone.exchange(phone.fact(kind, subject_id, body))[0]["status"]
            as_role = "rider" if role == "mate" else role
            may = as_role in WRITERS.get(kind, EVERYBODY) or allowed(role, "weighed", subject_id)
            assert verdict == "rejected" or (may and subject_id != "b1"), (kind, subject_id)


def test_a_wake_up_carries_one_of_five_constant_words(probed):
    probed.world.services.wakeups.wait_until_idle()
    sent = probed.world.sender.sent

    assert {sentence for _, sentence in sent} <= set(Sentence)
    assert {sentence.value for sentence in Sentence} == {b"plan", b"settle", b"weigh", b"flag", b"sync"}
    assert {subscription.team_id for subscription, _ in sent} <= {"red"}
    told = {subscription.role for subscription, sentence in sent if sentence in {Sentence.FLAG, Sentence.SETTLE}}
    assert told <= {"physiologist", "doctor", "admin"}


def test_guessed_device_ids_and_tokens_open_nothing(probed):
    foreign = probed.foreign
    for guess in (probed.phones["rider"].device_id, str(uuid.uuid4())):
        assert probed.call(foreign, "DELETE", f"/api/devices/{guess}").status_code == 404
    assert probed.call(probed.phones["rider"], "GET", "/api/me").status_code == 200


class Everybody(frozenset):
    """A set somebody broke: everything is in it."""

    def __contains__(self, _):
        return True


def _broken(monkeypatch):
    """Break every filter written in Python on the way of an answer to a person; what is left is the database's own."""
    for module, name in (
        (why, "may_read_document"), (tables, "may_read_fact"), (printing, "may_read_document"),
        (disclosure, "may_read_document"), (disclosure, "may_read_fact"),
    ):
        monkeypatch.setattr(module, name, lambda *_: True)
    for module in (tables, sheets, desk):
        monkeypatch.setattr(module, "BODY_READERS", Everybody())
    for module in (desk, tables):
        monkeypatch.setattr(module, "must_plan", lambda _: None)
    monkeypatch.setattr(copies, "frozenset", Everybody, raising=False)


DOORS = {
    "exchange": lambda probed, phone: [probed.fetched(phone)],
    "why": lambda probed, phone: [
        _mark(one.type, one.subject_id.replace("-", "")) for one in probed.world.repository.documents("red")
        if probed.call(phone, "GET", f"/api/why/{one.id}").status_code == 200
    ],
    "tables": lambda probed, phone: [
        probed.call(phone, "GET", f"/api/export/{table}", form=form) for table in TABLES for form in ("csv", "json")
    ],
    "copy": lambda probed, phone: [probed.call(phone, "GET", "/api/me/copy")],
    "prints": lambda probed, phone: [
        _mark("settlement", rider) for sheet in ("cards", "report") for rider in RIDERS
        if f"Pelagrin-{rider}" in probed.text_of(probed.call(phone, "GET", f"/api/stages/s1/sheets/{sheet}"))
    ],
    "what-if": lambda probed, phone: [
        _mark("rider_body", rider) for rider in RIDERS
        if probed.call(phone, "POST", "/api/stages/s1/what-if", {"rider_id": rider}).status_code == 200
    ],
}


@pytest.mark.parametrize("eyes", ["coach", "car", "rider", "physiologist"])
@pytest.mark.parametrize("door", DOORS)
def test_with_every_filter_in_python_broken_the_database_still_keeps_others_rows(probed, monkeypatch, door, eyes):
    """The second net, on PostgreSQL; on SQLite the same mutants leak, which shows that they are mutants."""
    phone = probed.phones[eyes]
    before = {mark for answer in DOORS[door](probed, phone) for mark in probed.marks(answer)}
    _broken(monkeypatch)

    answers = DOORS[door](probed, phone)

    found = {mark for answer in answers for mark in probed.marks(answer)}
    opened = {mark for mark in found if leaks(eyes, f"canary~{'~'.join(mark)}")}
    if probed.has_net:
        assert opened == set()
        assert before <= found
    else:
        OPENED_WITHOUT_NET[door].update(opened)


def test_without_the_net_the_same_mutants_leak_at_every_door(probed):
    if not probed.has_net:
        assert {door for door, opened in OPENED_WITHOUT_NET.items() if opened} == set(DOORS)


OPENED_WITHOUT_NET = {door: set() for door in DOORS}
