"""The ledger: who looked is written down before it is shown, and no line can be altered, removed or moved unseen."""

import pytest
from brinebook.__main__ import main
from brinebook.access import ledger
from brinebook.storage.errors import StorageUnavailable
from brinebook.storage.ledger import Erasure
from brinebook.storage.sql import open_repository
from brinebook.sync.erase import erase_subject
from sqlalchemy import text
from support import postgres
from support.world import open_world, open_world_on

N_ENTRIES = 6
TAMPERINGS = [
    "UPDATE ledger SET what = 'nothing' WHERE n = :n",
    "UPDATE ledger SET doer = (SELECT doer FROM ledger WHERE n <> :n AND doer <> '' LIMIT 1) || 'x' WHERE n = :n",
    "UPDATE ledger SET at_ms = at_ms + 1 WHERE n = :n",
    "UPDATE ledger SET subject = '' WHERE n = :n",
    "UPDATE ledger SET device_id = 'another' WHERE n = :n",
    "UPDATE ledger SET act = 'joined' WHERE n = :n",
    "UPDATE ledger SET sha = 'f' || substr(sha, 2) || 'e' WHERE n = :n",
    "DELETE FROM ledger WHERE n = :n",
    "DELETE FROM ledger WHERE n >= :n",
    "UPDATE ledger SET n = n + 100 WHERE n = :n",
]


@pytest.fixture(params=postgres.BACKENDS)
def world(request, tmp_path):
    yield from open_world_on(request.param, tmp_path)


def _weigh(phone, rider_id):
    assert phone.exchange(phone.fact("weighed", rider_id, {"moment": "before", "mass_kg": 66.125}))[0]["status"] == "ok"


def _about(phone, *acts):
    found = phone.get("/api/me/ledger").json()
    return [(one["act"], one["what"], one["by_name"]) for one in found if one["act"] in acts]


def test_a_rider_reads_who_looked_at_his_body_and_his_symptoms_once_a_day(world):
    rider, doctor, coach = world.join("red", "rider", "r1"), world.join("red", "doctor"), world.join("red", "coach")
    doctor.exchange()
    _weigh(rider, "r1")
    rider.exchange(rider.fact("symptom", "r1", {"symptom": "cramp"}))
    for _ in range(3):
        doctor.cursor = None
        doctor.exchange(), coach.exchange(), rider.exchange()

    told = _about(rider, "read")
    assert sorted(told) == [("read", "body", "doctor of red"), ("read", "medical", "doctor of red")]
    assert "66.125" not in rider.get("/api/me/ledger").text


def test_handing_in_for_somebody_else_reads_nothing_of_his(world):
    """A shared phone passes on the outbox of a doctor who does not hold it: verdicts come, and no look is noted."""
    rider, doctor = world.join("red", "rider", "r1"), world.join("red", "doctor")
    _weigh(rider, "r1")
    doctor.cursor = None
    noted = doctor.fact("note", "r1", {"text": "rest"})
    request = {"protocol": 3, "device_id": doctor.device_id, "cursor": None, "events": [noted], "limit": 0}
    reply = doctor.post("/api/exchange", request).json()

    assert [verdict["status"] for verdict in reply["verdicts"]] == ["ok"]
    assert (reply["events"], reply["documents"], reply["cursor"], reply["more"]) == ([], [], "", False)
    assert _about(rider, "read") == []
    assert "rest" in {one["body"].get("text") for one in _pulled(doctor)}


def _pulled(phone):
    phone.exchange()
    return list(phone.events.values())


def test_what_is_about_a_mate_or_another_team_is_not_told(world):
    rider, mate, admin = world.join("red", "rider", "r1"), world.join("red", "rider", "r2"), world.join("red", "admin")
    foreign = world.join("blue", "admin")
    _weigh(admin, "r2")
    admin.exchange(), foreign.exchange()

    assert ("read", "body", "admin of red") in _about(mate, "read")
    assert {one["by_name"] for one in rider.get("/api/me/ledger").json()} <= {"r1", "admin of red"}
    assert _about(foreign, "joined") == [("joined", "", "admin of blue")]
    assert mate.get("/api/me/ledger").json() != rider.get("/api/me/ledger").json()


def test_exports_and_revocations_are_noted_with_their_purpose(world):
    rider, admin = world.join("red", "rider", "r1"), world.join("red", "admin")
    assert admin.get("/api/export/facts", form="csv", purpose="season review").status_code == 200
    world.http.delete(f"/api/devices/{rider.device_id}", headers=admin.headers)
    again = world.join("red", "rider", "r1")

    assert ("exported", "facts csv: season review", "admin of red") in _about(again, "exported")
    assert _about(again, "revoked") == [("revoked", "rider", "admin of red")]


def test_opening_a_figure_is_a_look_too(world):
    rider, doctor = world.join("red", "rider", "r1"), world.join("red", "doctor")
    assert doctor.get("/api/why/rider_body:r1").status_code == 200

    assert ("read", "body", "doctor of red") in _about(rider, "read")


def test_nothing_is_shown_when_it_cannot_be_noted(world, monkeypatch):
    admin, doctor = world.join("red", "admin"), world.join("red", "doctor")
    _weigh(admin, "r1")

    def broken(*_):
        raise StorageUnavailable("disk full")

    monkeypatch.setattr(type(world.repository), "add_ledger_rows", broken)
    answer = doctor.request()

    assert answer.status_code == 503
    assert "mass_kg" not in answer.text


@pytest.fixture
def chained(world):
    """A store with a short ledger, and the means to tamper with it."""
    ledger.note(world.repository, "red", [
        ledger.Entry(act="read", by=f"m{n}", about=f"r{n % 2}", device_id=f"d{n}", what=f"w{n}")
        for n in range(N_ENTRIES)
    ])
    return world.repository


def test_every_line_altered_removed_or_cut_off_is_found(chained):
    assert ledger.verify(chained, "red") is None
    with chained.database.reading() as connection:
        kept = [dict(row) for row in connection.execute(text("SELECT * FROM ledger")).mappings()]
    columns = ", ".join(kept[0])
    put_back = text(f"INSERT INTO ledger ({columns}) VALUES ({', '.join(':' + name for name in kept[0])})")  # noqa: S608

    for statement in TAMPERINGS:
        for n in range(1, N_ENTRIES + 1):
            with chained.database.writing() as connection:
                assert connection.execute(text(statement), {"n": n}).rowcount
            fault = ledger.verify(chained, "red")
            with chained.database.writing() as connection:
                connection.execute(text("DELETE FROM ledger"))
                connection.execute(put_back, kept)

            assert fault is not None, (statement, n)
            assert fault.n == n, (statement, n)
    assert ledger.verify(chained, "red") is None


def test_lines_that_changed_places_are_found(chained):
    swap = ("UPDATE ledger SET n = 100 WHERE n = :a", "UPDATE ledger SET n = :a WHERE n = :b",
            "UPDATE ledger SET n = :b WHERE n = 100")
    with chained.database.writing() as connection:
        for statement in swap:
            connection.execute(text(statement), {key: n for key, n in (("a", 2), ("b", 5)) if f":{key}" in statement})

    fault = ledger.verify(chained, "red")
    assert fault is not None
    assert (fault.n, fault.reason) == (2, "altered")


def test_erasing_keeps_the_chain_whole_and_the_person_out_of_it(chained):
    tags = {ledger.tag(chained, "red", "r1")}
    assert erase_subject(chained, Erasure(team_id="red", subject_id="r1", erased_at_ms=1)).n_events == 0

    rows = chained.ledger_rows("red")
    assert ledger.verify(chained, "red") is None
    assert rows[-1].act == "erased"
    assert rows[-1].subject in tags
    assert chained.person_key("red", "r1") is None
    assert ledger.tag(chained, "red", "r1") == ""


def test_the_command_tells_where_a_ledger_broke(tmp_path, capsys):
    for world in open_world(tmp_path):
        world.join("red", "admin"), world.join("red", "doctor")
    assert main(["ledger", "verify", "--data", str(tmp_path / "data")]) == 0
    assert "ledger of team red: whole" in capsys.readouterr().out

    repository = open_repository(tmp_path / "data")
    with repository.database.writing() as connection:
        connection.execute(text("UPDATE ledger SET what = 'x' WHERE n = 1 AND team_id = 'red'"))
    repository.close()

    assert main(["ledger", "verify", "--data", str(tmp_path / "data")]) == 1
    assert "ledger of team red: line 1 altered" in capsys.readouterr().out
