"""
A backup or a file of keys that is bent, foreign, older or cut is found and named; nothing is replaced by it.

AES-GCM and HKDF are those of the ``cryptography`` package; that they compute what is published is checked against
RFC 5869 (A.1) and test case 16 of the GCM specification behind NIST SP 800-38D, both written down from memory.
"""

import json
import shutil
import sqlite3
from contextlib import closing

import pytest
from brinebook.records.edited import Rider, Team
from brinebook.storage import people_keys
from brinebook.storage.backup import backup, check_file
from brinebook.storage.errors import KeysMissing, StorageError, StoreDamaged
from brinebook.storage.ledger import Erasure, write_down
from brinebook.storage.sql import open_repository
from brinebook.storage.sqlite import FILE_NAME
from brinebook.storage.unsealing import about
from brinebook.sync.restore import restore
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from support.drawer import cells, fill, plain_copy
from support.world import open_world


@pytest.fixture
def held(tmp_path):
    """A backup with its keys in a folder of their own, and a data folder to restore into."""
    copy = tmp_path / "drawer" / "copy.sqlite3"
    for world in open_world(tmp_path):
        fill(world)
        backup(world.repository, copy)
    return copy


def _keys(copy) -> dict:
    return json.loads((copy.parent / people_keys.FILE_NAME).read_text())


def _rewrite(copy, changed) -> None:
    (copy.parent / people_keys.FILE_NAME).write_text(json.dumps(changed))


def test_keys_in_the_data_folder_do_as_well(held, tmp_path):
    data = tmp_path / "new machine"
    data.mkdir()
    shutil.move(held.parent / people_keys.FILE_NAME, data / people_keys.FILE_NAME)

    assert restore(data, "", held).n_without_key == 0


@pytest.mark.parametrize(("harm", "said"), [
    ("gone", "is not there"), ("older", "is older than the backup"), ("foreign", "is of another store"),
])
def test_without_the_keys_nothing_is_restored_and_it_is_said_which_file_is_wanted(held, tmp_path, harm, said):
    keys = _keys(held)
    if harm == "gone":
        (held.parent / people_keys.FILE_NAME).unlink()
    else:
        _rewrite(held, {**keys, **({"written_at_ms": 1} if harm == "older" else {"team_ids": ["green"]})})

    with pytest.raises(KeysMissing) as told:
        restore(tmp_path / "elsewhere", "", held)

    assert said in told.value.value
    assert "people.keys" in told.value.limit
    assert not (tmp_path / "elsewhere" / FILE_NAME).exists()


HARMS = {
    "swapped": [
        "UPDATE sealed_box SET n = n + 100 WHERE owners = :his AND n < 2",
        "UPDATE sealed_box SET n = 101 - n WHERE owners = :his AND n >= 100",
    ],
    "of another person": ["""
        UPDATE sealed_box SET sealed = (SELECT sealed FROM sealed_box WHERE owners = :others),
            nonce = (SELECT nonce FROM sealed_box WHERE owners = :others) WHERE owners = :his AND n = 0
    """],
    "one missing": ["DELETE FROM sealed_box WHERE owners = :his AND n = 0"],
    "cut off": ["DELETE FROM sealed_box WHERE owners = :his AND is_last = 1"],
    "cut off and closed": [
        "DELETE FROM sealed_box WHERE owners = :his AND is_last = 1",
        "UPDATE sealed_box SET is_last = 1 WHERE owners = :his AND n = 1",
    ],
    "altered": ["""
        UPDATE sealed_box SET sealed = CAST(substr(sealed, 1, 40) || x'00' || substr(sealed, 42) AS BLOB)
        WHERE owners = :his
    """],
    "of another backup": ["UPDATE sealed_about SET backup_id = x'00112233445566778899aabbccddeeff'"],
}
WHOSE = {"his": '["r1"]', "others": '["r2"]'}


@pytest.mark.parametrize("harm", HARMS)
def test_a_box_that_was_altered_moved_exchanged_or_cut_off_is_found_and_named(held, tmp_path, harm):
    with closing(sqlite3.connect(held)) as connection:
        n_boxes = connection.execute("SELECT count(*) FROM sealed_box WHERE owners = :his", WHOSE).fetchone()[0]
        assert n_boxes >= 3, "there is something to exchange"
        changed = sum(connection.execute(words, WHOSE).rowcount for words in HARMS[harm])
        connection.commit()
    assert changed

    with pytest.raises(StoreDamaged) as told:
        restore(tmp_path / "elsewhere", "", held)

    assert "what is about" in told.value.limit
    assert not (tmp_path / "elsewhere" / FILE_NAME).exists()


def test_a_wrong_key_is_not_taken_for_an_erased_person(held, tmp_path):
    keys = _keys(held)
    for one in keys["keys"]:
        if one["person_id"] == "r1":
            one["key"] = "A" * 43 + "="
    _rewrite(held, keys)

    with pytest.raises(StoreDamaged, match="r1"):
        restore(tmp_path / "elsewhere", "", held)


def test_a_bent_file_of_keys_is_named(held, tmp_path):
    (held.parent / people_keys.FILE_NAME).write_text('{"form": 1, "keys"')

    with pytest.raises(StorageError) as told:
        restore(tmp_path / "elsewhere", "", held)

    assert people_keys.FILE_NAME in told.value.reason


def test_a_backup_of_the_older_form_still_restores(tmp_path):
    copy = tmp_path / "older.sqlite3"
    for world in open_world(tmp_path):
        fill(world)
        held = cells(world.repository)
        plain_copy(tmp_path / "data", copy)
    assert about(copy) is None

    done = restore(tmp_path / "elsewhere", "", copy)

    again = open_repository(tmp_path / "elsewhere")
    try:
        assert cells(again) == held
        assert done.is_plain
    finally:
        again.close()


def test_whoever_came_after_the_backup_keeps_his_key(held, tmp_path):
    keys = _keys(held)
    keys["keys"].append({"team_id": "red", "person_id": "r3", "key": "A" * 43 + "="})
    _rewrite(held, keys)

    restore(tmp_path / "elsewhere", "", held)

    again = open_repository(tmp_path / "elsewhere")
    try:
        assert again.person_key("red", "r3") == bytes(32)
    finally:
        again.close()


def test_keys_of_another_store_in_the_same_folder_stay(held, tmp_path):
    other = open_repository(tmp_path / "second")
    other.add_team(Team(id="green", version=1, name="green", race_name="Race"))
    other.put_edited("green", Rider(id="g1", version=1, name="G", race_number=1))
    backup(other, held.parent / "green.sqlite3")
    other.close()

    assert {(one["team_id"], one["person_id"]) for one in _keys(held)["keys"]} >= {("red", "r1"), ("green", "g1")}
    assert restore(tmp_path / "elsewhere", "", held).n_without_key == 0


def test_the_file_alone_counts_whole_without_any_key(held):
    assert [one.team_id for one in check_file(held)] == ["blue", "red"]
    with closing(sqlite3.connect(held)) as connection:
        assert connection.execute("SELECT count(*) FROM person_key").fetchone() == (0,)
        assert connection.execute("SELECT count(*) FROM device").fetchone() == (0,)


def test_both_nets_hold_alone(held, tmp_path):
    """The ledger of the erased, with all keys there; and the missing key, with no ledger of the erased."""
    write_down(tmp_path / "by ledger", [Erasure(team_id="red", subject_id="r1", erased_at_ms=1)])
    assert restore(tmp_path / "by ledger", "", held).n_erased_again == 1
    keys = _keys(held)
    _rewrite(held, {**keys, "keys": [one for one in keys["keys"] if one["person_id"] != "r1"]})
    assert restore(tmp_path / "by key", "", held).n_erased_again == 1

    for folder in ("by ledger", "by key"):
        again = open_repository(tmp_path / folder)
        try:
            assert again.erased_subjects("red") == {"r1"}
            assert again.edited("red", Rider, "r1") is None
            assert all(row.subject_id != "r1" or row.disclosed_as == "erase"
                       for row in again.events_after("red", 0, 10_000))
        finally:
            again.close()


def test_the_library_computes_what_is_published():
    derived = HKDF(SHA256(), 42, salt=bytes(range(13)), info=bytes(range(0xF0, 0xFA))).derive(b"\x0b" * 22)
    assert derived.hex() == (
        "3cb25f25faacd57a90434f64d0362f2a2d2d0a90cf1a5a4c5db02d56ecc4c5bf34007208d5b887185865"
    )
    key = bytes.fromhex("feffe9928665731c6d6a8f9467308308" * 2)
    plain = bytes.fromhex(
        "d9313225f88406e5a55909c5aff5269a86a7a9531534f7da2e4c303d8a318a721c3c0c95956809532fcf0e2449a6b525"
        "b16aedf5aa0de657ba637b39"
    )
    beside = bytes.fromhex("feedfacedeadbeeffeedfacedeadbeefabaddad2")
    made = AESGCM(key).encrypt(bytes.fromhex("cafebabefacedbaddecaf888"), plain, beside)
    assert made[:16].hex() == "522dc1f099567d07f47f37a32a84427d"
    assert made[-16:].hex() == "76fc6ece0f4e1768cddf8853bb2d551b"
