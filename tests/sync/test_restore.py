"""Backups are whole though the server writes on; a restored one has a new epoch and brings nobody back."""

import argparse
import shutil
import subprocess
import sys
import threading

import pytest
from brinebook import clock
from brinebook.access.devices import revoke
from brinebook.commands import run_backup
from brinebook.settings import Settings
from brinebook.storage.backup import backup, check_file
from brinebook.storage.check import check_store
from brinebook.storage.database import Database
from brinebook.storage.errors import StorageUnavailable, StoreDamaged
from brinebook.storage.ledger import Erasure, write_down
from brinebook.storage.sql import SqlRepository, open_repository
from brinebook.storage.sqlite import FILE_NAME, SqliteBackend
from brinebook.sync.erase import erase_subject
from brinebook.sync.restore import StillServing, restore
from sqlalchemy import text
from storage.contract import new_document, new_event
from support import postgres
from support.live import ROOT, LiveServer
from support.world import fill_team, open_world

LEVEL = {"volume_l": 0.25, "how": "level"}


def _filled(place) -> SqlRepository:
    repository = open_repository(*place)
    fill_team(repository, "red", ("r1", "r2"))
    fill_team(repository, "blue", ("b1",))
    repository.add_events("red", [new_event("r1"), new_event("r2"), new_event("r1")])
    repository.quarantine("red", [new_event("r2")], "refused")
    repository.put_documents("red", [new_document()])
    return repository


def _all(repository) -> dict:
    return {
        team_id: (
            repository.events_after(team_id, 0, 10_000), repository.documents_after(team_id, 0, 10_000),
            sorted(repository.digests(team_id), key=lambda one: (one.subject_id, one.disclosed_as)),
            repository.heads(team_id), repository.n_quarantined(team_id),
        )
        for team_id in repository.team_ids()
    }


def test_what_comes_back_is_what_was_there_under_a_new_epoch(place, tmp_path):
    repository = _filled(place)
    held, epoch = _all(repository), repository.epoch()
    backup(repository, tmp_path / "one.sqlite3")
    repository.add_events("red", [new_event("r1")])
    repository.close()

    done = restore(*place, tmp_path / "one.sqlite3")

    again = open_repository(*place)
    assert _all(again) == held
    assert again.epoch() == done.epoch != epoch
    assert sorted(again.uncomputed_team_ids()) == ["blue", "red"]
    assert again.add_events("red", [new_event()]) != {}
    again.quarantine("red", [new_event("r2")], "refused")
    again.close()


def test_a_backup_taken_while_eight_threads_write_is_whole(place, tmp_path):
    repository = _filled(place)
    is_over = threading.Event()

    def write() -> None:
        while not is_over.is_set():
            repository.add_events("red", [new_event("r1") for _ in range(3)])

    writers = [threading.Thread(target=write) for _ in range(8)]
    for writer in writers:
        writer.start()
    try:
        found = [backup(repository, tmp_path / f"{n}.sqlite3") for n in range(3)]
    finally:
        is_over.set()
        for writer in writers:
            writer.join()

    counts = [one.n_events for teams in found for one in teams if one.team_id == "red"]
    assert counts == sorted(counts)
    assert counts[0] >= 3
    assert counts[-1] <= repository.head("red")
    assert [one.n_events for one in check_file(tmp_path / "2.sqlite3") if one.team_id == "red"] == counts[-1:]
    repository.close()


def test_a_backup_of_one_kind_restores_into_the_other(tmp_path):
    with postgres.database() as url:
        small, large = (tmp_path / "small", ""), (tmp_path / "large", url)
        repository = _filled(small)
        held = _all(repository)
        backup(repository, tmp_path / "small.sqlite3")
        repository.close()
        restore(*large, tmp_path / "small.sqlite3")
        moved = open_repository(*large)
        assert _all(moved) == held
        backup(moved, tmp_path / "large.sqlite3")
        moved.close()

    restore(*small, tmp_path / "large.sqlite3")

    back = open_repository(*small)
    assert _all(back) == held
    back.close()


def test_what_phones_authored_after_the_backup_comes_back_from_them(tmp_path):
    authored = {}
    for world in open_world(tmp_path):
        rider = world.join("red", "rider", "r1")
        early, late = rider.fact("drank", "r1", LEVEL), rider.fact("drank", "r1", LEVEL)
        rider.exchange(early)
        backup(world.repository, tmp_path / "one.sqlite3")
        rider.exchange(late)
        authored = {early["id"]: early, late["id"]: late}
        cursor, token, epoch = rider.cursor, rider.token, rider.last["epoch"]
    restore(tmp_path / "data", "", tmp_path / "one.sqlite3")

    for world in open_world(tmp_path, is_filled=True):
        phone = world.phone(token, rider.member, rider.device_id)
        first = phone.request(cursor=cursor).json()
        assert first["reset"] is True
        assert first["epoch"] != epoch
        verdicts = phone.exchange(*authored.values())
        assert sorted(verdict["status"] for verdict in verdicts) == ["dup", "ok"]
        assert set(phone.events) == set(authored)
        assert [one.n_events for one in check_store(world.repository.database)] == [0, 2]


@pytest.mark.parametrize("is_store_lost", [False, True])
def test_the_erased_stay_erased_before_anything_is_served(place, tmp_path, is_store_lost):
    repository = _filled(place)
    backup(repository, tmp_path / "one.sqlite3")
    erasure = Erasure(team_id="red", subject_id="r1", erased_at_ms=clock.now_ms())
    erase_subject(repository, erasure, write_down=lambda one: write_down(place[0], [one]))
    if is_store_lost and not place[1]:
        repository.close()
        (place[0] / FILE_NAME).write_bytes(b"no database at all" * 100)
    elif is_store_lost:
        with repository.database.writing() as connection:
            connection.execute(text("DELETE FROM erased_subject"))
    repository.close()

    done = restore(*place, tmp_path / "one.sqlite3")

    again = open_repository(*place)
    assert done.n_erased_again == 1
    assert again.erased_subjects("red") == {"r1"}
    assert [row.raw for row in again.events_after("red", 0, 10) if row.subject_id != "r2"][:2] == [b"", b""]
    assert again.heads("red").erased == 4
    again.close()


def test_a_revoked_device_is_not_let_in_again_by_an_old_backup(tmp_path):
    for world in open_world(tmp_path):
        phone = world.join("red", "car")
        backup(world.repository, tmp_path / "one.sqlite3")
        revoke(world.repository, "red", phone.device_id)
    done = restore(tmp_path / "data", "", tmp_path / "one.sqlite3")

    assert done.n_revoked_again == 1
    again = open_repository(tmp_path / "data")
    assert again.device("red", phone.device_id).is_revoked
    again.close()


@pytest.mark.parametrize("harm", ["gap", "digest", "cut", "foreign"])
def test_a_backup_that_is_not_whole_replaces_nothing(tmp_path, harm):
    place = (tmp_path / "data", "")
    repository = _filled(place)
    held = _all(repository)
    source = tmp_path / "one.sqlite3"
    backup(repository, source)
    repository.close()
    _harm(source, harm)

    with pytest.raises((StoreDamaged, StorageUnavailable)):
        restore(*place, source)

    again = open_repository(*place)
    assert _all(again) == held
    again.close()


def _harm(source, harm: str) -> None:
    if harm == "cut":
        source.write_bytes(source.read_bytes()[:20_000])
    elif harm == "foreign":
        source.write_text("not a database")
    else:
        database = Database(SqliteBackend(source))
        with database.writing() as connection:
            wrong = "DELETE FROM event WHERE seq = 2" if harm == "gap" else (
                "INSERT INTO event_digest VALUES ('red', 'red', 'note', 9, '0000000000000000')")
            connection.execute(text(wrong))
        database.close()


def test_an_existing_file_is_not_replaced_by_a_backup(tmp_path):
    repository = _filled((tmp_path / "data", ""))
    (tmp_path / "one.sqlite3").write_text("mine")

    with pytest.raises(StorageUnavailable):
        backup(repository, tmp_path / "one.sqlite3")

    assert (tmp_path / "one.sqlite3").read_text() == "mine"
    repository.close()


def test_a_folder_without_a_store_is_not_backed_up_as_an_empty_one(tmp_path):
    asked = argparse.Namespace(to=tmp_path / "one.sqlite3")

    with pytest.raises(StorageUnavailable, match="holds no store"):
        run_backup(asked, Settings(data=tmp_path / "mistyped"))

    assert list(tmp_path.iterdir()) == []


def _command(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "brinebook", *words], cwd=ROOT, capture_output=True, text=True, check=False, timeout=120,
    )


def test_the_commands_back_up_a_running_server_and_refuse_to_restore_over_it(tmp_path):
    data, source = tmp_path / "data", tmp_path / "one.sqlite3"
    data.mkdir()
    _filled((data, "")).close()
    server = LiveServer(data)
    server.start()
    try:
        backed = _command("backup", "--data", str(data), "--to", str(source))
        refused = _command("restore", "--data", str(data), "--from", str(source))
    finally:
        server.stop()
    restored = _command("restore", "--data", str(data), "--from", str(source))
    erased = _command("erase", "--data", str(data), "--team-id", "red", "--subject-id", "r1")
    unknown = _command("erase", "--data", str(data), "--team-id", "red", "--subject-id", "nobody")

    assert (backed.returncode, refused.returncode, restored.returncode, erased.returncode) == (0, 1, 0, 0), (
        backed.stderr, refused.stderr, restored.stderr, erased.stderr)
    assert StillServing.__name__ in refused.stderr
    assert "new epoch" in restored.stdout
    assert "2 facts of r1" in erased.stdout
    assert (unknown.returncode, "nobody" in unknown.stderr) == (1, True)
    assert (data / "erased.jsonl").read_text().count("\n") == 1
    shutil.rmtree(data)
