"""Whoever asked to be forgotten is: in the store, on every phone, in what still comes in, after a restore."""

import json
import sqlite3

import pytest
from brinebook import clock
from brinebook.records.edited import Stage
from brinebook.storage.check import check_store
from brinebook.storage.errors import NotFound
from brinebook.storage.ledger import Erasure, read_ledger, write_down
from brinebook.storage.sqlite import FILE_NAME
from brinebook.sync.erase import erase_subject
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from support.world import open_world

LEVEL = {"volume_l": 0.25, "how": "level"}
CANARY = "canary-7731"


def erasure(subject_id="r1", team_id="red"):
    return Erasure(team_id=team_id, subject_id=subject_id, erased_at_ms=clock.now_ms())


@pytest.fixture
def rider(world):
    return world.join("red", "rider", "r1")


@pytest.fixture
def admin(world):
    made = world.join("red", "admin")
    made.protocol = 2
    return made


def test_of_a_fact_stays_its_number_its_id_and_its_kind(world, rider, admin):
    facts = [rider.fact("drank", "r1", LEVEL), rider.fact("note", "r1", {"text": CANARY})]
    rider.exchange(*facts)
    admin.exchange(admin.fact("drank", "r2", LEVEL))

    done = erase_subject(world.repository, erasure())

    rows = world.repository.events_after("red", 0, 10)
    assert done.n_events == 2
    assert [row.seq for row in rows] == [1, 2, 3, 4]
    assert [(row.raw, row.subject_id) for row in rows[:2]] == [(b"", "")] * 2
    known = world.repository.known_events("red", [fact["id"] for fact in facts])
    assert sorted(one.kind for one in known.values()) == ["drank", "note"]
    assert check_store(world.repository.database)[1].n_events == 4


def test_a_phone_of_today_forgets_and_its_digest_is_right(world, rider, admin):
    rider.exchange(rider.fact("drank", "r1", LEVEL))
    kept = admin.fact("drank", "r2", LEVEL)
    admin.exchange(kept)

    erase_subject(world.repository, erasure())
    admin.exchange()

    assert {event["kind"] for event in admin.events.values() if event["subject_id"] == "r1"} == {"erase"}
    assert kept["id"] in admin.events
    assert not [one for one in admin.documents.values() if one["subject_id"] == "r1" and one.get("body")]
    assert admin.last["digest"][0] == len(admin.events)
    assert "reset" not in admin.last


def test_a_phone_that_knows_no_forgetting_starts_afresh(world, rider):
    rider.exchange(rider.fact("drank", "r1", LEVEL))
    old = world.join("red", "car")
    old.exchange()

    erase_subject(world.repository, erasure())

    assert old.request(cursor=old.cursor).json()["reset"] is True
    old.exchange()
    assert "drank" not in {event["kind"] for event in old.events.values()}


def test_what_still_comes_in_about_the_erased_is_answered_erased(world, rider, admin):
    old = rider.fact("drank", "r1", LEVEL)
    rider.exchange(old)
    erase_subject(world.repository, erasure())

    late = admin.fact("drank", "r1", LEVEL)
    verdicts = admin.exchange(
        late, {**old, "by": admin.member["id"]}, admin.fact("void", "r1", ref=old["id"]),
        admin.fact("void", "r2", ref=old["id"]),
    )

    assert [verdict["status"] for verdict in verdicts] == ["erased"] * 4
    assert world.repository.n_quarantined("red") == 0


def test_the_erased_is_signed_out_and_does_not_come_back(world, rider, admin):
    erase_subject(world.repository, erasure())

    assert rider.request().status_code == 401
    assert admin.put("/api/riders/r1", {"id": "r1", "name": "New", "race_number": 9}).status_code == 400
    with pytest.raises(NotFound):
        erase_subject(world.repository, erasure("nobody"))


def test_the_same_erasure_again_does_nothing(world, rider):
    rider.exchange(rider.fact("drank", "r1", LEVEL))
    erase_subject(world.repository, erasure())
    head = world.repository.head("red")

    again = erase_subject(world.repository, erasure())

    assert (again.n_events, world.repository.head("red")) == (0, head)


def test_no_byte_of_the_erased_is_left_in_the_file(tmp_path):
    for world in open_world(tmp_path):
        rider, admin = world.join("red", "rider", "r1"), world.join("red", "admin")
        note = rider.fact("note", "r1", {"text": CANARY})
        rider.exchange(note)
        rider.exchange({**note, "body": {"text": CANARY + " other"}})
        admin.put("/api/riders/r1", {"id": "r1", "name": CANARY, "race_number": 9, "version": 1})
        admin.exchange()
        before = _file_bytes(tmp_path)
        erase_subject(world.repository, erasure())
        world.repository.scrub()
        after = _file_bytes(tmp_path)

    assert CANARY.encode() in before
    assert CANARY.encode() not in after


def _file_bytes(folder) -> bytes:
    return b"".join(path.read_bytes() for path in (folder / "data").glob(f"{FILE_NAME}*"))


def test_a_stage_forgets_the_rider_too(world, admin):
    stage = {
        "id": "s1", "number": 1, "day_index": 1, "name": "S", "kind": "flat", "start_at_ms": 1,
        "time_zone": "Europe/Paris", "race_role_by_rider": {"r1": "leader", "r2": "domestique"},
    }
    assert admin.put("/api/stages/s1", stage).status_code == 200

    erase_subject(world.repository, erasure())

    assert world.repository.edited("red", Stage, "s1").race_role_by_rider == {"r2": "domestique"}


def test_it_is_written_down_before_anything_is_erased(world):
    told = []

    def full(one):
        told.append(one)
        raise OSError("the disk is full")

    with pytest.raises(OSError, match="full"):
        erase_subject(world.repository, erasure(), write_down=full)

    assert [one.subject_id for one in told] == ["r1"]
    assert world.repository.erased_subjects("red") == frozenset()


def test_the_ledger_keeps_each_once_and_survives_a_cut_line(tmp_path):
    write_down(tmp_path, [erasure("r1"), erasure("r2")])
    write_down(tmp_path, [erasure("r1")])
    with (tmp_path / "erased.jsonl").open("ab") as stream:
        stream.write(b'{"team_id":"red","subj')

    assert [one.subject_id for one in read_ledger(tmp_path)] == ["r1", "r2"]


@pytest.mark.parametrize("protocol", [1, 2])
@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_a_client_at_any_old_place_ends_up_like_a_fresh_one(tmp_path_factory, protocol, data):
    """Erasing is the one way the log shrinks: old cursor + what is left of the log == a fresh client."""
    n_facts = data.draw(st.integers(1, 8))
    subjects = data.draw(st.lists(st.sampled_from(["r1", "r2"]), min_size=n_facts, max_size=n_facts))
    read_at = data.draw(st.integers(0, n_facts))
    erased_at = data.draw(st.integers(0, n_facts))
    for world in open_world(tmp_path_factory.mktemp("compaction")):
        writer, reader, fresh = (world.join("red", role) for role in ("admin", "car", "car"))
        reader.protocol = fresh.protocol = protocol
        for place, subject_id in enumerate([*subjects, None]):
            if place == read_at:
                reader.exchange(limit=data.draw(st.integers(1, 4)))
            if place == erased_at:
                erase_subject(world.repository, erasure())
            if subject_id is not None:
                writer.exchange(writer.fact("drank", subject_id, LEVEL))
        reader.exchange(limit=2)
        fresh.exchange()

        assert reader.events == fresh.events
        assert reader.last["digest"] == fresh.last["digest"]
        assert {id_ for id_, one in reader.documents.items() if one.get("body")} == {
            id_ for id_, one in fresh.documents.items() if one.get("body")
        }


def test_the_skeleton_is_all_that_a_stranger_with_the_file_finds(world, rider, tmp_path):
    rider.exchange(rider.fact("note", "r1", {"text": CANARY}))
    erase_subject(world.repository, erasure())

    with sqlite3.connect(tmp_path / "data" / FILE_NAME) as connection:
        rows = connection.execute("SELECT * FROM event WHERE disclosed_as = 'erased'").fetchall()
    connection.close()

    assert len(rows) == 1
    assert "r1" not in json.dumps([str(value) for value in rows[0]])
