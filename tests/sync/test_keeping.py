"""A wish to be forgotten has its days of grace; facts go when their months are over; both outlive an older backup."""

import json

import pytest
from brinebook import clock
from brinebook.__main__ import main
from brinebook.access import ledger, retention
from brinebook.access.disclosure import FACT_READERS
from brinebook.jobs.keeper import keep
from brinebook.records.edited import Rider
from brinebook.storage.backup import backup
from brinebook.storage.check import check_store
from brinebook.storage.ledger import read_ledger, read_retained
from brinebook.storage.sql import open_repository
from brinebook.sync import keeping
from brinebook.sync.errors import ClockAhead
from brinebook.sync.restore import restore
from storage.contract import new_event
from support import postgres
from support.world import open_world, open_world_on

LEVEL = {"volume_l": 0.25, "how": "level"}
NOW_MS = clock.now_ms()
GRACE_MS = keeping.GRACE_DAYS * keeping.DAY_MS


@pytest.fixture(params=postgres.BACKENDS)
def world(request, tmp_path):
    yield from open_world_on(request.param, tmp_path)


@pytest.fixture
def data(world):
    return world.services.settings.data


def _preview(answer):
    assert answer.status_code == 200, answer.text
    return answer.json()


def _back(phone):
    return _preview(phone.http.delete("/api/me/erasure", headers=phone.headers))


def test_the_preview_counts_by_kind_what_goes_and_says_what_stays(world):
    rider, mate = world.join("red", "rider", "r1"), world.join("red", "rider", "r2")
    rider.exchange(*(rider.fact("drank", "r1", LEVEL) for _ in range(3)), rider.fact("note", "r1", {"text": "x"}))
    mate.exchange(mate.fact("drank", "r2", LEVEL))
    rider.post("/api/me/notices", {"name": "use", "version": 1, "is_agreed": True})

    told = _preview(rider.get("/api/me/erasure"))

    assert told["facts"] == {"drank": 3, "note": 1}
    assert {"rider": 1, "rider_body": 1, "member": 1}.items() <= told["documents"].items()
    assert (told["n_devices"], told["n_answers"], told["n_aside"], told["grace_days"]) == (1, 1, 0, 14)
    assert told["stays"] == ["numbers", "ledger", "noted_for_others"]
    assert (told["asked_at_ms"], told["due_at_ms"]) == (None, None)


def test_nothing_goes_before_the_days_of_grace_are_over_and_then_all_of_it(world, data):
    rider, admin = world.join("red", "rider", "r1"), world.join("red", "admin")
    rider.exchange(rider.fact("drank", "r1", LEVEL))
    asked = _preview(rider.post("/api/me/erasure"))
    again = _preview(rider.post("/api/me/erasure"))

    assert asked["due_at_ms"] - asked["asked_at_ms"] == GRACE_MS
    assert again["due_at_ms"] == asked["due_at_ms"], "asking again does not move the day"
    assert keeping.erase_due(world.repository, data, now_ms=asked["due_at_ms"] - 1) == []
    assert rider.exchange(rider.fact("drank", "r1", LEVEL))[0]["status"] == "ok"

    assert len(keeping.erase_due(world.repository, data, now_ms=asked["due_at_ms"])) == 1
    assert world.repository.edited("red", Rider, "r1") is None
    assert [one.subject_id for one in read_ledger(data)] == ["r1"]
    assert world.repository.wishes() == []
    assert rider.get("/api/me").status_code == 401
    assert admin.exchange(admin.fact("drank", "r1", LEVEL))[0]["status"] == "erased"
    assert ledger.verify(world.repository, "red") is None


def test_a_wish_taken_back_is_not_carried_out(world, data):
    rider = world.join("red", "rider", "r1")
    due_ms = _preview(rider.post("/api/me/erasure"))["due_at_ms"]

    assert _back(rider)["due_at_ms"] is None
    assert _back(rider)["due_at_ms"] is None
    assert keeping.erase_due(world.repository, data, now_ms=due_ms + 1) == []
    acts = [one["act"] for one in rider.get("/api/me/ledger").json()]
    assert acts[:2] == ["unwished", "wished"]


def test_erasing_a_member_of_staff_takes_devices_answers_and_wake_ups(world, data):
    coach = world.join("red", "coach")
    keys = {"p256dh": "B" * 87, "auth": "A" * 22}
    coach.post("/api/push-subscription", {"endpoint": "https://fcm.googleapis.com/x", "keys": keys})
    coach.post("/api/me/notices", {"name": "use", "version": 1, "is_agreed": True})
    due_ms = _preview(coach.post("/api/me/erasure"))["due_at_ms"]

    assert len(keeping.erase_due(world.repository, data, now_ms=due_ms)) == 1
    assert world.repository.subscriptions("red") == []
    assert world.repository.devices("red") == []
    assert world.repository.answers("red") == []


def test_the_server_carries_out_by_itself_what_is_due(world, data, monkeypatch):
    rider = world.join("red", "rider", "r1")
    rider.exchange(rider.fact("drank", "r1", LEVEL))
    due_ms, told = _preview(rider.post("/api/me/erasure"))["due_at_ms"], []
    assert keep(world.repository, data, told.append, is_retaining=True) == []

    monkeypatch.setattr(clock, "now_ms", lambda: due_ms)

    assert keep(world.repository, data, told.append, is_retaining=True) == ["red"]
    assert told == ["red"]


def test_every_kind_that_is_known_has_its_months():
    assert set(retention.KEPT_MONTHS) >= set(FACT_READERS)
    assert {months for months in retention.KEPT_MONTHS.values() if months} == {6, 12, 24}


def _aged(repository, kind, months, subject_id="r1"):
    new = new_event(subject_id=subject_id, kind=kind)
    at_ms = retention.before_ms(months, NOW_MS)
    repository.add_events("red", [type(new)(
        event=new.event, raw=new.raw, sha=new.sha, disclosed_as=kind, received_at_ms=at_ms,
    )])
    return new.event.id


def _kept_ids(repository):
    return {one.id for one in repository.events_after("red", 0, 100) if one.raw}


def test_facts_go_by_the_months_of_their_kind_and_leave_a_store_that_is_whole(world, data):
    repository = world.repository
    gone = {_aged(repository, kind, months) for kind, months in (
        ("drank", 25), ("weighed", 25), ("symptom", 13), ("stock_counted", 7), ("kind_of_tomorrow", 13),
    )}
    kept = {_aged(repository, kind, months) for kind, months in (
        ("drank", 23), ("weighed", 23), ("symptom", 11), ("stock_counted", 5), ("kind_of_tomorrow", 11), ("erase", 90),
        ("drank", 0),
    )}

    planned = keeping.retain(repository, data, now_ms=NOW_MS, is_dry=True)
    assert sum(one.n_facts for one in planned) == len(gone)
    assert _kept_ids(repository) == gone | kept, "a dry run takes nothing"
    assert read_retained(data) == []

    done = keeping.retain(repository, data, now_ms=NOW_MS, is_dry=False)

    assert done == planned
    assert _kept_ids(repository) == kept
    assert [one.n_events for one in check_store(repository.database) if one.team_id == "red"] == [12]
    assert keeping.retain(repository, data, now_ms=NOW_MS, is_dry=False) == []
    assert ledger.verify(repository, "red") is None
    assert {row.what for row in repository.ledger_rows("red") if row.act == "retained"} == {
        "drank: 1", "weighed: 1", "symptom: 1", "stock_counted: 1", "other: 1",
    }


def test_a_phone_that_still_holds_such_a_fact_is_told_to_forget_it(world, data):
    admin = world.join("red", "admin")
    fact = admin.fact("drank", "r1", LEVEL)
    admin.exchange(fact)
    _aged(world.repository, "drank", 0)

    keeping.retain(world.repository, data, now_ms=NOW_MS + 390 * keeping.DAY_MS, is_dry=False)
    assert admin.exchange(fact)[0]["status"] == "dup"
    repository = world.repository
    repository.let_go("red", ["drank"], clock.now_ms() + 1, is_other=False)

    assert admin.exchange(fact)[0]["status"] == "erased"
    admin.cursor, admin.events = None, {}
    admin.exchange()
    assert admin.last["digest"][0] == len(admin.events)
    assert fact["id"] not in admin.events


def test_a_clock_far_ahead_of_the_last_fact_lets_nothing_go(world, data):
    _aged(world.repository, "drank", 0)

    with pytest.raises(ClockAhead):
        keeping.retain(world.repository, data, now_ms=NOW_MS + 5 * 365 * keeping.DAY_MS, is_dry=False)
    assert len(_kept_ids(world.repository)) == 1


def test_what_went_by_age_stays_gone_and_wishes_stand_as_they_do_now_when_an_older_backup_is_restored(tmp_path):
    data, copy = tmp_path / "data", tmp_path / "copy.sqlite3"
    for world in open_world(tmp_path):
        old = _aged(world.repository, "symptom", 13)
        kept = _aged(world.repository, "symptom", 1)
        back, stands = world.join("red", "rider", "r1"), world.join("red", "rider", "r2")
        back.post("/api/me/erasure")
        backup(world.repository, copy)
        _back(back)
        stands.post("/api/me/erasure")
        keeping.retain(world.repository, data, now_ms=NOW_MS, is_dry=False)

    restore(data, "", copy)

    repository = open_repository(data)
    try:
        assert _kept_ids(repository) == {kept}
        assert old in {one.id for one in repository.events_after("red", 0, 10)}
        assert [one.subject_id for one in repository.wishes()] == ["r2"]
    finally:
        repository.close()


def test_the_commands_erase_what_is_due_and_say_what_would_go(tmp_path, capsys, monkeypatch):
    data = tmp_path / "data"
    for world in open_world(tmp_path):
        rider = world.join("red", "rider", "r1")
        due_ms = _preview(rider.post("/api/me/erasure"))["due_at_ms"]
        _aged(world.repository, "symptom", 13, subject_id="r2")
        _aged(world.repository, "drank", 0, subject_id="r2")

    assert main(["retain", "--data", str(data), "--dry-run"]) == 0
    assert "1 of symptom, older than 12 months, would go" in capsys.readouterr().out
    assert main(["retain", "--data", str(data)]) == 0
    assert "1 facts went" in capsys.readouterr().out
    assert main(["erase", "--data", str(data), "--due"]) == 0
    assert "0 teams; 1 still in their days of grace" in capsys.readouterr().out

    monkeypatch.setattr(clock, "now_ms", lambda: due_ms)
    assert main(["erase", "--data", str(data), "--due"]) == 0
    assert "1 teams; 0 still" in capsys.readouterr().out
    assert json.dumps("r1") not in json.dumps([one.subject_id for one in open_repository(data).wishes()])


@pytest.mark.parametrize(("words", "named"), [
    ([], "--team-id and --subject-id missing"),
    (["--team-id", "red"], "--subject-id missing"),
    (["--subject-id", "r1"], "--team-id missing"),
    (["--due", "--subject-id", "r1"], "--due erases everybody who is due"),
])
def test_erase_names_the_flag_it_lacks_and_touches_nothing(tmp_path, capsys, words, named):
    with pytest.raises(SystemExit) as ended:
        main(["erase", "--data", str(tmp_path / "data"), *words])

    assert ended.value.code == 2
    told = capsys.readouterr().err
    assert named in told
    assert "usage: brinebook erase" in told
    assert not (tmp_path / "data").exists()
