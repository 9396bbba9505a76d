"""How long facts are kept is the team's to say, between a floor and a ceiling, and never one person's unseen."""

import pytest
from brinebook import clock
from brinebook.access import ledger, retention
from brinebook.storage.backup import backup
from brinebook.storage.sql import open_repository
from brinebook.sync import keeping
from brinebook.sync.restore import restore
from storage.contract import new_event
from support import postgres
from support.world import open_world, open_world_on

DAY_MS = keeping.DAY_MS


@pytest.fixture(params=postgres.BACKENDS)
def world(request, tmp_path):
    yield from open_world_on(request.param, tmp_path)


def _put(phone, sort, months):
    return phone.put(f"/api/team/months/{sort}", {"months": months})


def _kept(phone, sort="medical"):
    return next(one for one in phone.get("/api/team/months").json() if one["sort"] == sort)


def _aged(repository, kind, months, now_ms):
    new = new_event(kind=kind)
    repository.add_events("red", [type(new)(
        event=new.event, raw=new.raw, sha=new.sha, disclosed_as=kind,
        received_at_ms=retention.before_ms(months, now_ms),
    )])


def test_everybody_reads_the_months_and_the_release_s_hold_until_somebody_sets_others(world):
    rider = world.join("red", "rider", "r1")

    told = {one["sort"]: (one["months"], one["least"], one["most"]) for one in rider.get("/api/team/months").json()}

    assert told == {"road": (24, 6, 36), "body": (24, 6, 36), "medical": (12, 6, 24), "kitchen": (24, 6, 36),
                    "shelf": (6, 3, 24)}


def test_longer_holds_at_once_and_shorter_waits_and_can_be_taken_back(world, monkeypatch):
    admin, doctor, blue = world.join("red", "admin"), world.join("red", "doctor"), world.join("blue", "admin")
    now_ms = clock.now_ms()

    assert _put(doctor, "medical", 24).status_code == 200
    assert (_kept(admin)["months"], _kept(admin)["next_months"]) == (24, None)
    assert _kept(blue)["months"] == 12, "another team's months are its own"
    assert _put(admin, "medical", 6).status_code == 200
    pending = _kept(doctor)
    assert (pending["months"], pending["next_months"]) == (24, 6)
    assert pending["next_from_ms"] - now_ms == pytest.approx(retention.WAIT_DAYS * DAY_MS, abs=60_000)

    assert _put(doctor, "medical", 24).status_code == 200, "the doctor takes it back"
    monkeypatch.setattr(clock, "now_ms", lambda: now_ms + 31 * DAY_MS)
    assert (_kept(admin)["months"], _kept(admin)["next_months"]) == (24, None)
    assert _put(admin, "medical", 6).status_code == 200
    monkeypatch.setattr(clock, "now_ms", lambda: now_ms + 62 * DAY_MS)
    assert (_kept(admin)["months"], _kept(admin)["next_months"]) == (6, None)
    assert [row.what for row in world.repository.ledger_rows("red") if row.act == "months_set"] == [
        "medical: 12 to 24", "medical: 24 to 6", "medical: 24 to 24", "medical: 24 to 6"]
    assert ledger.verify(world.repository, "red") is None


def test_nobody_but_an_admin_shortens_and_hands_set_nothing(world):
    for role, rider_id in (("doctor", None), ("physiologist", None), ("coach", None), ("rider", "r1"), ("car", None)):
        phone = world.join("red", role, rider_id)
        assert _put(phone, "body", 12).status_code == 403, role
        assert _put(phone, "body", 30).status_code == (200 if role in {"doctor", "physiologist"} else 403), role


@pytest.mark.parametrize(("sort", "months", "status"), [
    ("medical", 5, 400), ("medical", 25, 400), ("road", 37, 400), ("shelf", 2, 400), ("nothing", 12, 404),
    ("road", "many", 400), ("road", 0, 400),
])
def test_floor_and_ceiling_hold_and_are_named(world, sort, months, status):
    answer = _put(world.join("red", "admin"), sort, months)

    assert answer.status_code == status, answer.text
    if isinstance(months, int) and sort != "nothing" and months:
        assert answer.json()["value"] == str(months)
        assert "months for" in answer.json()["limit"]


def test_what_the_team_set_decides_what_goes(world, monkeypatch):
    admin, repository, data = world.join("red", "admin"), world.repository, world.services.settings.data
    assert _put(admin, "road", 36).status_code == 200
    assert _put(admin, "medical", 6).status_code == 200
    now_ms = clock.now_ms()
    _aged(repository, "drank", 30, now_ms)
    _aged(repository, "drank", 40, now_ms)
    _aged(repository, "symptom", 8, now_ms)
    _aged(repository, "kind_of_tomorrow", 8, now_ms)

    gone = keeping.retain(repository, data, now_ms=now_ms, is_dry=True)
    assert {(one.kind, one.months, one.n_facts) for one in gone} == {("drank", 36, 1)}
    later_ms = now_ms + (retention.WAIT_DAYS + 1) * DAY_MS
    monkeypatch.setattr(clock, "now_ms", lambda: later_ms)
    gone = keeping.retain(repository, data, now_ms=later_ms, is_dry=False)

    assert {(one.kind, one.months, one.n_facts) for one in gone} == {
        ("drank", 36, 1), ("symptom", 6, 1), ("kind_of_tomorrow", 6, 1)}


def test_an_older_backup_does_not_shorten_what_was_lengthened_since(tmp_path):
    copy = tmp_path / "copies" / "one.sqlite3"
    for world in open_world(tmp_path):
        admin = world.join("red", "admin")
        backup(world.repository, copy)
        _put(admin, "body", 36)
    restore(tmp_path / "data", "", copy)

    again = open_repository(tmp_path / "data")
    try:
        found = retention.kept(again, "red", now_ms=clock.now_ms())
        assert next(one.months for one in found if one.sort == "body") == 36
    finally:
        again.close()
