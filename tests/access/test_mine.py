"""What a person may do with what is held about him: take a copy, answer notices, ask to be forgotten."""

import csv
import dataclasses
import hashlib
import io
import json
import zipfile
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pypdfium2
import pytest
from brinebook.access import notices
from brinebook.files import copies
from brinebook.sheets.errors import PaperUnavailable
from brinebook.sheets.markup import Paper
from brinebook.sheets.own_copy import MOST_FACTS, Names, OwnCopy, own_copy_html
from brinebook.storage.keys import Passkey
from brinebook.storage.repository import NewDocument
from msgspec.structs import replace
from support import postgres
from support.world import open_world_on

MASS_KG, WORDS = 66.1375, "zwergspitz"


@pytest.fixture(params=postgres.BACKENDS)
def world(request, tmp_path, monkeypatch):
    """A server whose printer is a stand-in: a page takes a second, and two tests below look at a real one."""
    monkeypatch.setattr(copies, "pdf_apart", lambda html: html.encode())
    yield from open_world_on(request.param, tmp_path)


def _opened(phone):
    answer = phone.get("/api/me/copy")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/zip"
    with zipfile.ZipFile(io.BytesIO(answer.content)) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


def _acts(phone):
    return [(one["act"], one["what"]) for one in phone.get("/api/me/ledger").json()]


def _filled(world):
    rider, mate = (world.join("red", "rider", rider_id) for rider_id in ("r1", "r2"))
    doctor = world.join("red", "doctor")
    rider.exchange(
        rider.fact("weighed", "r1", {"moment": "before", "mass_kg": MASS_KG}),
        rider.fact("note", "r1", {"text": "=1+1"}),
    )
    doctor.exchange(doctor.fact("symptom", "r1", {"symptom": "cramp", "text": WORDS}))
    mate.exchange(mate.fact("weighed", "r2", {"moment": "before", "mass_kg": 71.9375}))
    return rider, mate, doctor


def test_a_copy_holds_what_is_about_the_person_and_nothing_of_a_mate(world):
    rider, _, doctor = _filled(world)
    files = _opened(rider)
    told = json.loads(files["copy.json"])

    assert {fact["kind"] for fact in told["facts"]} == {"weighed", "note", "symptom"}
    assert {fact["subject_id"] for fact in told["facts"]} == {"r1"}
    assert {one["type"] for one in told["records"]} >= {"rider", "rider_body", "member"}
    whole = b"".join(files.values())
    assert (str(MASS_KG).encode() in whole, WORDS.encode() in whole) == (True, True)
    assert b"71.9375" not in whole
    assert b'"r2"' not in whole
    assert doctor.member["id"].encode() in whole, "who noted it stands beside the fact"
    of_doctor = json.loads(_opened(doctor)["copy.json"])
    assert of_doctor["facts"] == []
    assert [one["kind"] for one in of_doctor["noted_for_others"]] == ["symptom"]
    assert WORDS not in json.dumps(of_doctor)


def test_a_copy_is_cut_by_the_table_of_readers(world):
    rider, _, _ = _filled(world)
    hidden = {"forecast_audit", "settlement_summary"}
    world.repository.put_documents("red", [
        NewDocument(id=f"{type_}:r1", type=type_, subject_id="r1", body=b'{"x":1}') for type_ in (*hidden, "profile")
    ])
    types = {one["type"] for one in json.loads(_opened(rider)["copy.json"])["records"]}

    assert "profile" in types
    assert types & hidden == set()


def test_the_sums_of_a_copy_are_right_and_its_tables_open_as_text(world):
    rider, _, _ = _filled(world)
    files = _opened(rider)
    sums = dict(reversed(line.split("  ")) for line in files["SHA256SUMS"].decode().splitlines())

    assert sums == {name: hashlib.sha256(body).hexdigest() for name, body in files.items() if name != "SHA256SUMS"}
    rows = list(csv.DictReader(io.StringIO(files["facts.csv"].decode())))
    assert {row["kind"] for row in rows} == {"weighed", "note", "symptom"}
    for name, body in files.items():
        if name.endswith(".csv"):
            cells = [cell for row in csv.reader(io.StringIO(body.decode())) for cell in row]
            assert [cell for cell in cells if cell.startswith(("=", "@", "+"))] == []


def test_a_copy_holds_no_secret_and_is_noted(world):
    rider, _, _ = _filled(world)
    whole = b"".join(_opened(rider).values())
    device = world.repository.device("red", rider.device_id)

    assert rider.token.encode() not in whole
    assert device.token_sha.encode() not in whole
    assert ("copied", "") in _acts(rider)


def test_what_stands_aside_is_in_the_copy_too(world):
    rider, _, _ = _filled(world)
    bad = rider.fact("weighed", "r1", {"moment": "before", "mass_kg": 4000.0})
    assert rider.exchange(bad)[0]["status"] == "rejected"

    assert [one["id"] for one in json.loads(_opened(rider)["copy.json"])["set_aside"]] == [bad["id"]]


PAPER = {"en": "Noted, day by day", "nl": "Genoteerd, dag na dag"}


@pytest.mark.parametrize("language", sorted(PAPER))
def test_the_document_says_in_the_person_s_language_what_was_noted_by_whom_and_who_looked(tmp_path, language):
    for world in open_world_on("sqlite", tmp_path):
        rider, _, doctor = _filled(world)
        doctor.exchange()
        world.repository.put_passkey(Passkey(
            id="pk", team_id="red", member_id=rider.member["id"], rp_id="book.example", public_key=b"never-told",
            n_signed=1, name="Blue phone", made_at_ms=1_790_000_000_000, used_at_ms=1_790_000_100_000,
        ))
        _say(rider, "sharing", is_agreed=False)
        answer = rider.get("/api/me/copy", language=language)
        with zipfile.ZipFile(io.BytesIO(answer.content)) as packed:
            body, told = packed.read("copy.pdf"), packed.read("copy.json")
    pages = pypdfium2.PdfDocument(body)
    said = " ".join(" ".join(page.get_textpage().get_text_bounded() for page in pages).split())

    assert PAPER[language] in said
    assert hashlib.sha256(told).hexdigest() in said.replace(" ", "")
    for word in ("r1", "doctor of red", "Blue phone", "2026-09-21", "=1+1"):
        assert word in said, word
    assert ("66.1 kg" if language == "en" else "66,1 kg") in said
    assert "71.9" not in said
    assert "never-told" not in told.decode()
    assert json.loads(told)["passkeys"] == [{
        "name": "Blue phone", "for": "book.example", "made_at": "2026-09-21T14:13:20.000+00:00",
        "used_at": "2026-09-21T14:15:00.000+00:00",
    }]


def test_where_nothing_can_be_printed_the_data_come_all_the_same_with_a_line_that_says_why(world, monkeypatch):
    def refuse(_):
        raise PaperUnavailable(value="no such library")

    monkeypatch.setattr(copies, "pdf_apart", refuse)
    rider, _, _ = _filled(world)
    files = _opened(rider)

    assert "copy.pdf" not in files
    assert "no such library" in files["copy-pdf-missing.txt"].decode()
    assert {"copy.json", "facts.csv", "SHA256SUMS"} <= set(files)
    assert rider.get("/api/me/copy", language="xx").json()["code"] == "nothing_to_print"


def test_odd_facts_of_newer_versions_and_thousands_of_them_do_not_keep_the_document_from_being_laid_out():
    def fact(n, kind, body):
        return {"id": str(n), "kind": kind, "by": "m2", "at_ms": 1_790_000_000_000 + n * 60_000, "body": body}

    odd = [fact(n, kind, body) for n, (kind, body) in enumerate([
        ("of_tomorrow", ["a", 1]), ("amend", {}), ("drank", {"volume_l": "much"}), ("note", {"text": "<b>x</b>"}),
        ("amend", {"set": {"volume_l": 0.2}}), ("weighed", None), ("morning_check", {"thirst": 3}),
    ])]
    many = [fact(100 + n, "drank", {"volume_l": 0.25}) for n in range(3000)]
    parts = {name: [] for name in ("records", "noted_for_others", "set_aside", "devices", "passkeys", "answers",
                                   "wish_to_be_forgotten", "who_looked")}
    told = OwnCopy(
        parts={**parts, "person": [{"id": "m1", "name": "A & B", "role": "rider"}], "facts": many + odd},
        names=Names({"m2": "<i>M</i>"}, {}, {}), own_ids=frozenset({"m1"}), team_name="T",
        zone=ZoneInfo("Europe/Paris"), made_at=datetime(2026, 11, 26, tzinfo=UTC), sum_of_json="0" * 64,
    )
    html = own_copy_html(told, Paper("en"))

    assert html.count("<tr>") < MOST_FACTS + 100
    assert "2007 earlier entries stand in facts.csv." in html
    assert "<b>x</b>" not in html
    assert "<i>M</i>" not in html
    for n in range(len(odd)):
        assert own_copy_html(replace_facts(told, [odd[n]]), Paper("fr"))


def replace_facts(told, facts):
    return dataclasses.replace(told, parts={**told.parts, "facts": facts})


def _asked(phone):
    return {one["name"]: one for one in phone.get("/api/me/notices").json()}


def _say(phone, name, *, is_agreed, version=1):
    return phone.post("/api/me/notices", {"name": name, "version": version, "is_agreed": is_agreed})


def test_yes_and_no_take_the_same_one_call_and_both_are_kept_with_version_and_date(world):
    rider = world.join("red", "rider", "r1")
    assert _asked(rider)["sharing"]["is_due"]

    for is_agreed in (True, False):
        assert _say(rider, "sharing", is_agreed=is_agreed).status_code == 200
        assert _asked(rider)["sharing"]["is_agreed"] is is_agreed
    kept = world.repository.answers("red", rider.member["id"])

    assert [(one.notice, one.version, one.is_agreed) for one in kept] == [("sharing", 1, True), ("sharing", 1, False)]
    assert 0 < kept[0].at_ms <= kept[1].at_ms
    assert [act for act in _acts(rider) if act[0] in {"agreed", "withdrew"}] == [
        ("withdrew", "sharing 1"), ("agreed", "sharing 1"),
    ]
    answers = json.loads(_opened(rider)["copy.json"])["answers"]
    assert [one["is_agreed"] for one in answers] == [True, False]


def test_a_changed_notice_is_asked_again_and_nothing_waits_for_the_answer(world, monkeypatch):
    rider = world.join("red", "rider", "r1")
    _say(rider, "sharing", is_agreed=True), _say(rider, "use", is_agreed=True)
    assert not any(one["is_due"] for one in _asked(rider).values())
    assert notices.sharers(world.repository, "red") == {"r1"}

    monkeypatch.setattr(notices, "NOTICES", tuple(replace(one, version=2) for one in notices.NOTICES))

    told = [(one["is_due"], one["is_agreed"], one["answered_version"]) for one in _asked(rider).values()]
    assert told == [(True, False, 1)] * 2
    assert notices.sharers(world.repository, "red") == frozenset()
    assert _say(rider, "sharing", is_agreed=True, version=1).json()["code"] == "other_version"
    fact = rider.fact("drank", "r1", {"volume_l": 0.25, "how": "level"})
    assert rider.exchange(fact)[0]["status"] == "ok"


def test_who_never_answered_or_said_no_logs_all_the_same(world):
    rider = world.join("red", "rider", "r1")
    _say(rider, "use", is_agreed=False), _say(rider, "sharing", is_agreed=False)

    fact = rider.fact("drank", "r1", {"volume_l": 0.25, "how": "level"})
    assert rider.exchange(fact)[0]["status"] == "ok"
    assert _say(rider, "nonsense", is_agreed=True).status_code == 404


def test_what_leaves_the_team_holds_only_those_who_chose_to_let_it(world):
    rider, mate, _ = _filled(world)
    admin = world.join("red", "admin")

    def exported(**parameters):
        return admin.get("/api/export/facts", form="csv", **parameters).text

    assert "66.1375" not in exported(reach="outside")
    _say(rider, "sharing", is_agreed=True)
    assert ("66.1375" in exported(reach="outside"), "71.9375" in exported(reach="outside")) == (True, False)
    assert ("66.1375" in exported(), "71.9375" in exported()) == (True, True)
    _say(rider, "sharing", is_agreed=False)
    assert "66.1375" not in exported(reach="outside")
    assert [what for act, what in _acts(mate) if act == "exported" and what.startswith("outside")] == []
    assert admin.get("/api/export/facts", form="csv", reach="moon").status_code == 422


def test_the_answers_of_a_team_stay_with_it(world):
    rider, foreign = world.join("red", "rider", "r1"), world.join("blue", "rider", "b1")
    _say(rider, "sharing", is_agreed=True)

    assert _asked(foreign)["sharing"]["is_due"]
    assert notices.sharers(world.repository, "blue") == frozenset()
