"""What lies in a backup about somebody opens with his key alone; an erasure ends that for every older backup."""

import shutil
import stat
from contextlib import nullcontext

from brinebook import clock
from brinebook.records.edited import Rider, Stage
from brinebook.storage import people_keys
from brinebook.storage.backup import TABLES, backup
from brinebook.storage.ledger import Erasure
from brinebook.storage.owners import ABOUT_NOBODY, LEFT_OUT, OWNER_ID
from brinebook.storage.sql import open_repository
from brinebook.sync.erase import erase_subject
from brinebook.sync.restore import restore
from support import postgres
from support.drawer import CANARIES, all_bytes, cells, dump, fill, found, plain_copy
from support.world import open_world


def _open(place, tmp_path, *, is_filled=False):
    return open_world(tmp_path, url=place[1], is_filled=is_filled)


def _others(repository) -> dict:
    rows = repository.events_after("red", 0, 10_000)
    return {
        "seq": [(row.seq, row.id) for row in rows],
        "mate": [row for row in rows if row.subject_id == "r2"],
        "digest": sorted(
            (one.subject_id, one.disclosed_as, one.n_events, one.xor64) for one in repository.digests("red")
            if one.subject_id != "r1"
        ),
        "rider": repository.edited("red", Rider, "r2"),
        "settlement": repository.document("red", "settlement:r2:s1").body,
        "members": {one.id for one in repository.members("red") if one.rider_id != "r1"},
        "blue": repository.all_edited("blue", Rider),
    }


def test_an_erasure_makes_older_backups_unreadable_for_the_person_and_leaves_all_others_whole(place, tmp_path):
    old, data = tmp_path / "drawer" / "old.sqlite3", place[0]
    for world in _open(place, tmp_path):
        fill(world)
        repository = world.repository
        before = _others(repository)
        backup(repository, old)
        assert found(all_bytes(old)) == [], "nothing about a person is in the clear, erased or not"
        if not place[1]:
            plain_copy(data, tmp_path / "plain.sqlite3")
            assert set(found(all_bytes(tmp_path / "plain.sqlite3"))) == set(CANARIES), "the search is a search"

        erase_subject(repository, Erasure(team_id="red", subject_id="r1", erased_at_ms=clock.now_ms()))
        assert repository.person_key("red", "r1") is None
        backup(repository, old.with_name("new.sqlite3"))

    shutil.rmtree(data, ignore_errors=True)
    with postgres.database() if place[1] else nullcontext("") as url:
        fresh = (tmp_path / "fresh", url)
        done = restore(*fresh, old)
        assert (done.n_without_key, done.n_erased_again, done.is_plain) == (1, 1, False)
        backup_again = tmp_path / "opened.sqlite3"
        again = open_repository(*fresh)
        try:
            assert again.erased_subjects("red") == {"r1"}
            after = _others(again)
            assert after["seq"][:-1] == before["seq"], "numbers, ids and kinds stay"
            after["seq"], before["seq"] = [], []
            after["digest"] = [one for one in after["digest"] if one[1] != "erase"]
            assert after == before
            assert again.edited("red", Rider, "r1") is None
            assert again.edited("red", Stage, "s1").race_role_by_rider == {"r2": "leader"}
            assert again.edited("red", Stage, "s1").opened_drinks_by_rider == {"r2": ["strong"]}
            assert again.document("red", "stage:s1") is not None
            dump(again, backup_again)
            assert found(all_bytes(backup_again)) == []
        finally:
            again.close()


def test_with_all_keys_everything_comes_back_to_the_byte(place, tmp_path):
    copy = tmp_path / "copy.sqlite3"
    for world in _open(place, tmp_path):
        fill(world)
        backup(world.repository, copy)
        held = cells(world.repository)
    restore(*place, copy)
    again = open_repository(*place)
    try:
        assert cells(again) == held
    finally:
        again.close()
    assert stat.S_IMODE((tmp_path / people_keys.FILE_NAME).stat().st_mode) == 0o600


def test_every_table_says_whose_its_rows_are():
    assert {str(one.name) for one in TABLES} == ABOUT_NOBODY | LEFT_OUT | set(OWNER_ID)


