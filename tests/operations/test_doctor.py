"""The doctor finds what is wrong, says what to do, and is content with what is right."""

import os
import shutil
from types import SimpleNamespace

import pytest
from brinebook import clock, doctor
from brinebook.__main__ import main
from brinebook.access import ledger
from brinebook.access.devices import DAY_MS
from brinebook.access.retention import before_ms
from brinebook.push.web_push import load_key
from brinebook.records.edited import Team
from brinebook.settings import Settings, tls_refusal
from brinebook.storage.backup import backup
from brinebook.storage.people_keys import FILE_NAME as PEOPLE_KEYS
from brinebook.storage.personal import Wish
from brinebook.storage.sql import open_repository
from brinebook.storage.sqlite import FILE_NAME
from sqlalchemy import text
from storage.contract import new_event
from support import postgres

NO_ROOM = SimpleNamespace(free=1000)


@pytest.fixture(params=postgres.BACKENDS)
def kept(request, tmp_path):
    """A healthy server's settings, its store and its folder of backups."""
    data, backups = tmp_path / "data", tmp_path / "backups"
    with postgres.address(request.param) as url:
        repository = open_repository(data, url)
        repository.add_team(Team(id="red", name="R", race_name="R"))
        repository.add_events("red", [new_event()])
        ledger.note(repository, "red", [ledger.Entry(act="joined", by="m1")] * 2)
        load_key(data)
        for one in data.iterdir():
            one.chmod(0o600)
        backup(repository, backups / "monday.sqlite3")
        origin, contact = "https://book.example", "mailto:keeper@book.example"
        yield Settings(data=data, origin=origin, push_contact=contact, database_url=url), repository, backups
        repository.close()


def _bad(settings, backups):
    return {one.what.split(":")[0]: one for one in doctor.examine(settings, backups) if one.state == "bad"}


def test_a_healthy_server_needs_nothing(kept):
    settings, _, backups = kept
    found = doctor.examine(settings, backups)

    assert [one for one in found if one.state == "bad"] == []
    assert {one.what.split(":")[0] for one in found} >= {"database", "backups", "clock", "ledger of red", "address"}


def test_each_trouble_is_found_by_name_and_comes_with_a_deed(kept, monkeypatch, tmp_path):
    settings, repository, backups = kept
    with repository.database.writing() as connection:
        connection.execute(text("UPDATE event SET seq = 7, received_at_ms = 4000000000000"))
        connection.execute(text("UPDATE ledger SET what = 'x' WHERE n = 2"))
    (settings.data / "vapid.pem").chmod(0o644)
    os.utime(backups / "monday.sqlite3", (1, 1))
    monkeypatch.setattr(shutil, "disk_usage", lambda _: NO_ROOM)
    broken = Settings(data=settings.data, origin="http://book.example", database_url=settings.database_url)

    found = _bad(broken, backups)

    assert set(found) == {"disk", "file vapid.pem", "backups", "address", "database", "ledger of red", "clock"}
    assert all(one.to_do for one in found.values())
    assert _bad(broken, tmp_path / "no-such-folder")["backups"].what.startswith("backups: none")


def test_keys_that_are_missing_bent_older_or_open_to_others_are_found_and_plain_backups_are_told(kept):
    settings, _, backups = kept
    keys = backups / PEOPLE_KEYS
    whole = keys.read_bytes()
    keys.chmod(0o644)
    assert _bad(settings, backups)[PEOPLE_KEYS].to_do == f"chmod 600 {keys}"
    keys.write_bytes(whole[:20])
    keys.chmod(0o600)
    assert "cannot be read" in _bad(settings, backups)[PEOPLE_KEYS].what
    keys.write_bytes(whole)
    os.utime(keys, (1, 1))
    assert "older than the newest backup" in _bad(settings, backups)[PEOPLE_KEYS].what
    keys.unlink()
    assert "not beside the backups" in _bad(settings, backups)[PEOPLE_KEYS].what
    (backups / "older.sqlite3").write_bytes(b"x")
    told = [one for one in doctor.examine(settings, backups) if "older form" in one.what]
    assert [(one.state, one.what.split()[1]) for one in told] == [("look", "1")]


def test_what_was_promised_and_not_carried_out_is_told_with_the_command(kept):
    settings, repository, backups = kept
    now_ms = clock.now_ms()
    repository.put_wish(Wish(team_id="red", subject_id="r1", asked_at_ms=1, due_at_ms=now_ms - 3 * DAY_MS))
    repository.put_wish(Wish(team_id="red", subject_id="r2", asked_at_ms=1, due_at_ms=now_ms - DAY_MS))
    new = new_event("r1", "symptom")
    late_ms = before_ms(12, now_ms) - 3 * DAY_MS
    repository.add_events("red", [type(new)(
        event=new.event, raw=new.raw, sha="1", disclosed_as="symptom", received_at_ms=late_ms,
    )])

    found = _bad(settings, backups)

    assert found["wishes to be forgotten"].what.endswith("1 overdue")
    assert "erase --data" in found["wishes to be forgotten"].to_do
    assert found["months"].what == "months: 1 facts kept longer than promised"
    assert "retain --data" in found["months"].to_do


def test_a_database_that_does_not_answer_is_a_finding(tmp_path):
    url = "postgresql://nobody@/none?host=/nowhere"

    assert "database" in _bad(Settings(data=tmp_path, database_url=url), None)


def test_the_command_says_it_line_by_line_and_fails_when_something_is_bad(tmp_path, capsys):
    data = str(tmp_path / "data")
    assert main(["migrate", "--data", data]) == 0
    (tmp_path / "data" / FILE_NAME).chmod(0o644)

    assert main(["doctor", "--data", data]) == 1
    told = capsys.readouterr().out
    assert f"bad  file {FILE_NAME}: others may read it" in told
    assert f"-> chmod 600 {data}/{FILE_NAME}" in told


def test_what_a_command_makes_is_for_its_user_alone(tmp_path):
    data, copy = tmp_path / "data", tmp_path / "out" / "b.sqlite3"
    assert main(["invite", "--data", str(data), "--name", "A"]) == 0
    assert main(["backup", "--data", str(data), "--to", str(copy)]) == 0

    assert [oct(one.stat().st_mode & 0o077) for one in (data / FILE_NAME, copy, copy.with_name(PEOPLE_KEYS))] == [
        "0o0"] * 3


def test_tls_needs_both_files_and_a_key_that_others_cannot_read(tmp_path):
    cert, key = tmp_path / "cert.pem", tmp_path / "key.pem"
    cert.write_text("x")
    key.write_text("x")
    key.chmod(0o644)

    assert tls_refusal(Settings(data=tmp_path)) is None
    assert "--tls-key" in tls_refusal(Settings(data=tmp_path, tls_cert=cert))
    assert "chmod 600" in tls_refusal(Settings(data=tmp_path, tls_cert=cert, tls_key=key))
    key.chmod(0o600)
    assert tls_refusal(Settings(data=tmp_path, tls_cert=cert, tls_key=key)) is None
    found = doctor.examine(Settings(data=tmp_path, tls_cert=cert, tls_key=key), None)
    assert [one.state for one in found if one.what.startswith("certificate")] == ["bad"]
