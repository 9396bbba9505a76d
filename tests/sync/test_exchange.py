"""The exchange through the real API."""

import hashlib
import json

import msgspec
import pytest
from brinebook.planning.recompute import Changed
from brinebook.sync.cursor import encoded, read
from support.world import open_world

LEVEL = {"volume_l": 0.25, "how": "level"}


@pytest.fixture
def rider(world):
    return world.join("red", "rider", "r1")


@pytest.fixture
def physiologist(world):
    return world.join("red", "physiologist")


def test_a_fact_sent_twice_counts_once(world, rider):
    fact = rider.fact("drank", "r1", LEVEL)

    first, again = rider.exchange(fact), rider.exchange(fact)

    assert [(first[0]["status"], first[0]["seq"]), (again[0]["status"], again[0]["seq"])] == [("ok", 1), ("dup", 1)]
    assert world.repository.head("red") == 1


def test_the_same_id_with_another_body_is_a_conflict_and_kept_aside(world, rider):
    fact = rider.fact("drank", "r1", LEVEL)
    rider.exchange(fact)

    verdicts = rider.exchange({**fact, "body": {"volume_l": 0.5, "how": "level"}})

    assert verdicts[0]["status"] == "conflict"
    assert world.repository.n_quarantined("red") == 1
    assert rider.events[fact["id"]]["body"] == LEVEL


def test_the_same_id_twice_in_a_batch_gets_one_verdict(world, rider):
    fact = rider.fact("drank", "r1", LEVEL)

    verdicts = rider.exchange(fact, fact, {**fact, "body": {"volume_l": 0.5, "how": "level"}})

    assert [verdict["status"] for verdict in verdicts] == ["ok"]
    assert world.repository.n_quarantined("red") == 1


def test_a_bad_fact_does_not_stop_the_others(world, rider):
    facts = [rider.fact("drank", "r1", LEVEL), rider.fact("drank", "r1", {"volume_l": -1, "how": "level"}),
             rider.fact("drank", "nobody", LEVEL), rider.fact("ate", "r1", {"food_id": "gel", "n_units": 1})]

    verdicts = {verdict["id"]: verdict["status"] for verdict in rider.exchange(*facts)}

    assert [verdicts[fact["id"]] for fact in facts] == ["ok", "rejected", "rejected", "ok"]
    assert world.repository.head("red") == 2


def test_a_refused_fact_is_kept_aside_and_its_correction_is_refused_too(world, rider):
    bad = rider.fact("drank", "r1", {"volume_l": -1, "how": "level"})
    rider.exchange(bad)

    verdict = rider.exchange(rider.fact("void", "r1", ref=bad["id"]))[0]

    assert (verdict["status"], verdict["code"]) == ("rejected", "ref_rejected")
    assert world.repository.quarantined_ids("red", [bad["id"]]) == {bad["id"]}
    assert world.repository.quarantined_ids("blue", [bad["id"]]) == frozenset()


def test_a_refused_fact_may_become_sound(world):
    admin = world.join("red", "admin")
    fact = admin.fact("drank", "r9", LEVEL)
    first = admin.exchange(fact)[0]["status"]
    admin.put("/api/riders/r9", {"id": "r9", "name": "New", "race_number": 9})

    second = [verdict["status"] for verdict in admin.exchange(fact, admin.fact("void", "r9", ref=fact["id"]))]

    assert (first, set(second)) == ("rejected", {"ok"})


def test_every_id_comes_back_exactly_once(rider):
    facts = [rider.fact(kind, "r1", LEVEL) for kind in ("drank", "drank", "agreed", "tomorrow", "weighed")]

    verdicts = rider.exchange(*facts)

    assert sorted(verdict["id"] for verdict in verdicts) == sorted(fact["id"] for fact in facts)


def test_an_id_of_another_team_cannot_be_probed(world, rider):
    fact = rider.fact("drank", "r1", LEVEL)
    rider.exchange(fact)
    foreigner = world.join("blue", "rider", "b1")

    verdicts = foreigner.exchange({**fact, "by": foreigner.member["id"], "subject_id": "b1"})
    void = foreigner.exchange(foreigner.fact("void", "b1", ref=rider.fact("drank", "r1")["id"]))

    assert verdicts[0]["status"] == "ok"
    assert void[0]["status"] == "retry"


def test_a_correction_of_another_teams_fact_looks_like_one_of_no_fact(world, rider):
    fact = rider.fact("drank", "r1", LEVEL)
    rider.exchange(fact)
    foreigner = world.join("blue", "admin")

    verdict = foreigner.exchange(foreigner.fact("void", "b1", ref=fact["id"]))[0]

    assert (verdict["status"], verdict["code"]) == ("retry", "unknown_ref")


def test_a_correction_may_come_in_the_same_batch_and_before_its_fact(rider):
    fact = rider.fact("drank", "r1", LEVEL)
    void = rider.fact("void", "r1", ref=fact["id"])

    assert {verdict["status"] for verdict in rider.exchange(void, fact)} == {"ok"}


def test_an_unknown_kind_is_relayed_untouched(world, rider):
    fact = rider.fact("a_kind_of_tomorrow", "r1", {"deep": [1, {"x": None}]}, newer_field="kept")
    rider.exchange(fact)
    doctor = world.join("red", "doctor")
    doctor.exchange()

    assert doctor.events[fact["id"]] == fact


def test_a_device_reads_page_by_page_to_the_end(world, rider):
    for _ in range(3):
        rider.exchange(*[rider.fact("drank", "r1", LEVEL) for _ in range(20)])
    other = world.join("red", "car")

    other.exchange(limit=7)

    assert len(other.events) == 60


def test_filtered_facts_do_not_stall_the_cursor(rider, physiologist):
    physiologist.exchange(*[physiologist.fact("drank", "r2", LEVEL) for _ in range(30)])
    fact = physiologist.fact("handed_up", "r1", {"volume_l": 0.5, "drink_id": "standard"})
    physiologist.exchange(fact)

    rider.exchange(limit=5)

    assert set(rider.events) == {fact["id"]}


def test_the_digest_is_that_of_what_was_pulled(rider, physiologist):
    physiologist.exchange(*[physiologist.fact("drank", subject, LEVEL) for subject in ("r1", "r2", "r1")])
    rider.exchange()

    assert rider.last["digest"] == expected_digest(rider.events)
    assert rider.last["digest"][0] == 2


def expected_digest(events):
    xor64 = 0
    for id_ in events:
        xor64 ^= int.from_bytes(hashlib.sha256(id_.encode()).digest()[:8], "big")
    return [len(events), f"{xor64:016x}"]


@pytest.mark.parametrize("cursor", ["", "nonsense", "AAAA", "W10="])
def test_an_unreadable_cursor_starts_afresh(rider, cursor):
    reply = rider.request(cursor=cursor).json()

    assert reply["reset"] is True


def test_a_cursor_of_another_history_starts_afresh(tmp_path, rider):
    rider.exchange(rider.fact("drank", "r1", LEVEL))
    (tmp_path / "other").mkdir()
    for elsewhere in open_world(tmp_path / "other"):
        stranger = elsewhere.join("red", "rider", "r1")
        stranger.cursor = rider.cursor
        reply = stranger.request(cursor=rider.cursor).json()
        assert reply["reset"] is True
        assert reply["epoch"] != rider.last["epoch"]


def test_a_cursor_ahead_of_the_store_starts_afresh(rider):
    rider.exchange(rider.fact("drank", "r1", LEVEL))
    ahead = read(rider.cursor)
    reply = rider.request(cursor=encoded(msgspec.structs.replace(ahead, seq=99))).json()

    assert reply["reset"] is True


def test_a_changed_scope_starts_afresh(world, physiologist):
    physiologist.exchange(physiologist.fact("weighed", "r1", {"moment": "before", "mass_kg": 66}))
    member = world.repository.member("red", physiologist.member["id"])
    world.repository.put_member("red", msgspec.structs.replace(member, role="car"))

    physiologist.exchange()

    assert physiologist.events == {}
    assert not any(document["type"] == "rider_body" for document in physiologist.documents.values())


def test_documents_come_down_once_and_again_when_they_change(rider, physiologist):
    rider.exchange()
    assert rider.documents["rider_body:r1"]["body"]["mass_kg"] == 67.0
    rider.exchange()
    assert rider.last["documents"] == []

    edited = {**rider.documents["rider:r1"]["body"], "name": "L. Aalto"}
    physiologist.put("/api/riders/r1", edited)
    rider.exchange()

    assert [document["id"] for document in rider.last["documents"]] == ["rider:r1"]


def test_a_deleted_document_comes_down_as_forget_it(world, physiologist):
    physiologist.exchange()
    world.repository.delete_documents("red", ["rider_body:r2"])
    physiologist.exchange()

    gone = physiologist.last["documents"][0]
    assert (gone["id"], gone.get("body")) == ("rider_body:r2", None)


def test_too_many_facts_are_to_be_sent_in_halves(rider):
    answer = rider.request(*[rider.fact("drank", "r1", LEVEL) for _ in range(201)])

    assert (answer.status_code, answer.json()["code"]) == (413, "too_many_events")


def test_an_old_client_may_always_push(rider):
    body = {"protocol": 1, "device_id": "d", "events": [rider.fact("drank", "r1", LEVEL)], "unknown": True}

    reply = rider.post("/api/exchange", body).json()

    assert reply["verdicts"][0]["status"] == "ok"


def test_a_batch_tells_the_planner_once_what_it_changed(tmp_path):
    told = []
    for world in open_world(tmp_path, compute=lambda _repository, team_id, changed: told.append((team_id, changed))):
        world.services.recompute.wait_until_idle(10)
        told.clear()
        rider = world.join("red", "rider", "r1")
        fact = rider.fact("drank", "r1", LEVEL, stage_id="s1")
        rider.exchange(fact, rider.fact("ate", "r1", {"food_id": "gel", "n_units": 1}))
        rider.exchange(fact)
        assert world.services.recompute.wait_until_idle(10)

    kinds, stages = frozenset({"drank", "ate"}), frozenset({"s1"})
    changed = Changed(subject_ids=frozenset({"r1"}), kinds=kinds, stage_ids=stages, edited_types=frozenset())
    assert [one for one in told if one[1].kinds] == [("red", changed)]


def test_a_failing_planner_loses_no_fact_and_logs_no_value(tmp_path, caplog):
    def fail(*_):
        raise ValueError("sodium was 61.25")

    for world in open_world(tmp_path, compute=fail):
        rider = world.join("red", "rider", "r1")
        fact = rider.fact("drank", "r1", LEVEL)
        verdicts = rider.exchange(fact)
        assert world.services.recompute.wait_until_idle(10)
        rider.exchange()

    assert verdicts[0]["status"] == "ok"
    assert fact["id"] in rider.events
    assert "ValueError at" in caplog.text
    assert "61.25" not in caplog.text


def test_verdicts_are_json_of_one_shape(rider):
    verdict = rider.exchange(rider.fact("drank", "r1", LEVEL))[0]

    assert json.loads(json.dumps(verdict)) == {"id": verdict["id"], "status": "ok", "seq": 1}
