"""Passkeys: made and used for one act, one host, one origin, once, soon; and what waits until they were shown again."""

from dataclasses import replace

import pytest
from brinebook import clock
from brinebook.access import ledger, passkeys
from brinebook.storage.backup import backup
from brinebook.storage.sql import open_repository
from brinebook.sync.restore import restore
from support import postgres
from support.authenticator import PRESENT, Authenticator
from support.world import ORIGIN, Phone, open_world

HOST = "book.example"
WEIGHED = {"moment": "before", "mass_kg": 66.2}


def _registered(phone, **changes):
    key = Authenticator(**{"origin": ORIGIN, "rp_id": HOST, **changes})
    options = phone.post("/api/me/passkeys/options").json()
    answer = phone.post("/api/me/passkeys", {"credential": key.make(options), "name": "desk"})
    return key, answer


def _sign_in(world, key, options=None, **more):
    options = options or world.http.post("/api/passkeys/options").json()
    return world.http.post("/api/passkeys/sign-in", json={"credential": key.sign(options), **more})


def _shown(phone, key):
    return phone.post("/api/me/verify", {"credential": key.sign(phone.post("/api/me/verify/options").json())})


@pytest.fixture
def hour_later(monkeypatch):
    now = clock.now_ms
    return lambda: monkeypatch.setattr(clock, "now_ms", lambda: now() + passkeys.VERIFIED_MINUTES * 60_000 + 1)


def test_a_passkey_signs_its_owner_in_on_a_new_device(world):
    phone = world.join("red", "doctor")
    key, made = _registered(phone)
    assert made.status_code == 200, made.text

    joined = _sign_in(world, key, device_name="new laptop").json()

    assert joined["member"] == phone.member
    assert joined["device_id"] != phone.device_id
    new = Phone(world.http, joined["token"], joined["member"], joined["device_id"])
    assert {one["name"] for one in new.get("/api/devices").json()} >= {"new laptop"}
    assert new.exchange() == []


@pytest.mark.parametrize("changes", [
    {"origin": "https://book.example.evil.example"}, {"origin": "http://book.example"}, {"rp_id": "evil.example"},
    {"flags": PRESENT},
])
def test_another_origin_another_host_or_an_unverified_holder_is_refused(world, changes):
    phone = world.join("red", "doctor")
    key, made = _registered(phone)
    assert made.status_code == 200
    bent = replace(key, **changes)

    for answer in (_sign_in(world, bent), _shown(phone, replace(bent, n_signed=10)), _registered(phone, **changes)[1]):
        assert (answer.status_code, answer.json()["code"]) == (403, "passkey_refused"), changes


def test_an_answer_works_once_and_its_counter_only_grows(world):
    phone = world.join("red", "doctor")
    key, _ = _registered(phone)
    options = world.http.post("/api/passkeys/options").json()
    signed = {"credential": key.sign(options)}

    assert world.http.post("/api/passkeys/sign-in", json=signed).status_code == 200
    assert world.http.post("/api/passkeys/sign-in", json=signed).json()["code"] == "passkey_refused"
    again = _sign_in(world, replace(key, n_signed=50), options)
    assert again.json()["field"] == "challenge"
    copied = replace(key, n_signed=0)
    assert _sign_in(world, copied).json()["field"] == "credential"
    assert _sign_in(world, key).status_code == 200


def test_a_challenge_is_for_one_act_one_device_and_five_minutes(world, monkeypatch):
    phone, other = world.join("red", "doctor"), world.join("red", "physiologist")
    key, _ = _registered(phone)
    options = phone.post("/api/me/verify/options").json()
    theirs = other.post("/api/me/verify/options").json()
    early = world.http.post("/api/passkeys/options").json()

    assert _sign_in(world, key, options).json()["field"] == "challenge"
    assert phone.post("/api/me/verify", {"credential": key.sign(theirs)}).json()["field"] == "challenge"
    assert phone.post("/api/me/verify", {"credential": key.sign(early)}).json()["field"] == "challenge"
    made_up = {"challenge": "A" * 80}
    assert _sign_in(world, key, made_up).json()["field"] == "challenge"
    now = clock.now_ms
    monkeypatch.setattr(clock, "now_ms", lambda: now() + passkeys.CHALLENGE_MINUTES * 60_000 + 1)
    assert _sign_in(world, key, early).json()["field"] == "challenge"


def test_nobody_shows_himself_with_anothers_passkey(world):
    phone, other = world.join("red", "doctor"), world.join("red", "doctor")
    key, _ = _registered(phone)
    _registered(other)

    answer = _shown(other, key)

    assert (answer.status_code, answer.json()["code"]) == (403, "passkey_refused")


def test_riders_have_none_and_a_known_one_is_not_taken_twice(world):
    rider, phone, other = world.join("red", "rider", "r1"), world.join("red", "doctor"), world.join("red", "coach")
    assert rider.post("/api/me/passkeys/options").json()["code"] == "not_yours"
    key, _ = _registered(phone)
    twice = other.post("/api/me/passkeys", {"credential": key.make(other.post("/api/me/passkeys/options").json())})
    assert twice.json()["code"] == "passkey_refused"


def test_a_stolen_token_neither_adds_nor_removes_a_passkey_where_there_is_one(world, hour_later):
    phone = world.join("red", "doctor")
    key, made = _registered(phone)
    hour_later()

    assert phone.post("/api/me/passkeys/options").json()["code"] == "verify_again"
    path = f"/api/me/passkeys/{made.json()['id']}"
    assert phone.http.delete(path, headers=phone.headers).json()["code"] == "verify_again"
    assert _shown(phone, key).status_code == 204
    assert phone.http.delete(path, headers=phone.headers).status_code == 204
    assert _sign_in(world, key).status_code == 403


def test_ending_all_devices_of_a_person_ends_his_passkeys(world):
    phone, admin = world.join("red", "doctor"), world.join("red", "admin")
    key, _ = _registered(phone)
    admin.http.delete(f"/api/team/members/{phone.member['id']}/devices", headers=admin.headers)

    assert _sign_in(world, key).json()["code"] == "passkey_refused"


@pytest.fixture(params=["sqlite", "postgresql"])
def stepping(request, tmp_path):
    """A team that asks for passkeys, on either database, with facts of a rider's body."""
    if request.param == "sqlite":
        yield from _filled(open_world(tmp_path))
        return
    with postgres.database() as url:
        yield from _filled(open_world(tmp_path, url=url))


def _filled(worlds):
    for world in worlds:
        rider, admin = world.join("red", "rider", "r1"), world.join("red", "admin")
        rider.exchange(rider.fact("weighed", "r1", WEIGHED), rider.fact("poured", "r1", {"volume_l": 0.1}))
        assert admin.put("/api/team/step-up", {"is_asked": True}).status_code == 204
        yield world


def test_others_bodies_wait_for_the_passkey_and_entries_never_do(stepping, hour_later):
    doctor = stepping.join("red", "doctor")
    key, made = _registered(doctor)
    assert made.status_code == 200, made.text
    doctor.exchange()
    held = dict(doctor.events)
    assert any(one["kind"] == "weighed" for one in held.values())
    hour_later()
    rider = stepping.join("red", "rider", "r1")
    rider.exchange(rider.fact("weighed", "r1", WEIGHED))
    n_looks = len(stepping.repository.ledger_rows("red"))

    noted = doctor.fact("symptom", "r1", {"symptom": "cramp", "severity": 2})
    answer = doctor.request(noted, cursor=doctor.cursor).json()
    assert [one["status"] for one in answer["verdicts"]] == ["ok"]
    assert (answer["is_held_back"], answer["events"], answer["documents"]) == (True, [], [])
    assert (answer["cursor"], answer["more"]) == (doctor.cursor, False)
    assert not {"drop", "digest", "reset", "seals"} & set(answer)
    assert len(stepping.repository.ledger_rows("red")) == n_looks
    assert doctor.get("/api/why/rider_body:r1").json()["code"] == "verify_again"
    assert doctor.get("/api/export/facts").json()["code"] == "verify_again"

    assert _shown(doctor, key).status_code == 204
    doctor.exchange()
    assert noted["id"] in doctor.events
    assert len([one for one in doctor.events.values() if one["kind"] == "weighed"]) == 2
    assert set(held) <= set(doctor.events)
    assert doctor.get("/api/export/facts").status_code == 200
    assert ledger.verify(stepping.repository, "red") is None


def test_a_team_that_does_not_ask_leaves_everybody_in_peace_and_an_admin_without_a_passkey_may_lift_the_rule(
    world, hour_later,
):
    rider = world.join("red", "rider", "r1")
    doctor, physiologist = world.join("red", "doctor"), world.join("red", "physiologist")
    rider.exchange(rider.fact("weighed", "r1", WEIGHED))
    _registered(doctor)
    hour_later()
    doctor.exchange()
    assert not doctor.last.get("is_held_back")

    admin = world.join("red", "admin")
    assert physiologist.put("/api/team/step-up", {"is_asked": True}).status_code == 403
    assert admin.put("/api/team/step-up", {"is_asked": True}).status_code == 204
    physiologist.exchange()
    assert physiologist.last["is_held_back"]
    assert admin.put("/api/team/step-up", {"is_asked": False}).status_code == 204
    physiologist.exchange()
    assert any(one["kind"] == "weighed" for one in physiologist.events.values())


def test_a_passkey_that_was_removed_stays_away_when_an_older_backup_is_restored(tmp_path):
    data = tmp_path / "old" / "data"
    for world in open_world(tmp_path / "old"):
        gone, stays = world.join("red", "doctor"), world.join("red", "physiologist")
        _registered(gone)
        kept = _registered(stays)[1].json()["id"]
        backup(world.repository, tmp_path / "copy.sqlite3")
        world.repository.delete_passkeys("red", gone.member["id"])

    restore(data, "", tmp_path / "copy.sqlite3")

    repository = open_repository(data, "")
    assert repository.passkey_ids() == {kept}
    repository.close()


def _invited(by, **wanted):
    answer = by.post("/api/invites", wanted)
    assert answer.status_code == 200, answer.text
    return answer.json()


def _joins(world, made, **how):
    body = {"secret": made["link"].rsplit("/", 1)[1], "device_name": "new", "device_key": clock.secret(), **how}
    return world.http.post("/api/join", json=body)


@pytest.fixture
def asking(world):
    """A team that asks for passkeys, its admin, and a doctor who has one."""
    doctor, admin = world.join("red", "doctor"), world.join("red", "admin")
    key, made = _registered(doctor)
    assert made.status_code == 200
    assert admin.put("/api/team/step-up", {"is_asked": True}).status_code == 204
    return doctor, admin, key


@pytest.mark.parametrize("how", ["link", "code"])
def test_an_invitation_alone_brings_in_no_device_of_who_has_a_passkey(world, asking, how):
    """Single-factor recovery would make the passkey worth no more than the link in somebody's mailbox."""
    doctor, admin, key = asking
    made = _invited(admin, member_id=doctor.member["id"])
    given = {} if how == "link" else {"secret": "", "code": made["code"]}

    refused = _joins(world, made, **given)
    assert (refused.status_code, refused.json()["code"]) == (403, "passkey_needed")
    assert len(doctor.get("/api/devices").json()) == 1

    assert _sign_in(world, key, device_name="new").status_code == 200
    assert {one["name"] for one in doctor.get("/api/devices").json()} == {"doctor", "new"}
    assert admin.put("/api/team/step-up", {"is_asked": False}).status_code == 204
    assert _joins(world, made, **given).status_code == 200


def test_a_lost_passkey_is_replaced_face_to_face_by_an_admin_within_minutes(world, asking, monkeypatch):
    doctor, admin, key = asking
    physiologist = world.join("red", "physiologist")
    wanted = {"member_id": doctor.member["id"], "replaces_passkeys": True}
    assert physiologist.post("/api/invites", wanted).status_code == 403
    assert admin.post("/api/invites", wanted).json()["code"] == "verify_again"
    _registered(admin)
    made = _invited(admin, **wanted)
    assert made["expires_at_ms"] - clock.now_ms() <= 15 * 60_000

    late = _invited(admin, **wanted)
    joined = _joins(world, made)

    assert joined.status_code == 200
    assert _sign_in(world, key).json()["code"] == "passkey_refused"
    phone = Phone(world.http, joined.json()["token"], joined.json()["member"], joined.json()["device_id"])
    phone.exchange()
    assert phone.last["is_held_back"]
    assert _registered(phone)[1].status_code == 200
    acts = [(one["act"], one["what"]) for one in phone.get("/api/me/ledger").json()]
    assert ("invited", "replaces passkeys") in acts
    now = clock.now_ms
    monkeypatch.setattr(clock, "now_ms", lambda: now() + 15 * 60_000 + 1)
    assert _joins(world, late).status_code == 410


def test_who_joins_first_makes_a_passkey_before_others_bodies_come_and_notes_meanwhile(world, asking):
    _, admin, _ = asking
    rider = world.join("red", "rider", "r1")
    rider.exchange(rider.fact("weighed", "r1", WEIGHED))
    made = _invited(admin, name="New doctor", role="doctor")
    joined = _joins(world, made).json()
    phone = Phone(world.http, joined["token"], joined["member"], joined["device_id"])

    note = phone.fact("symptom", "r1", {"symptom": "cramp", "severity": 2})
    assert [one["status"] for one in phone.exchange(note)] == ["ok"]
    assert phone.last["is_held_back"]
    assert not phone.events
    assert not phone.documents
    for path in ("/api/why/rider_body:r1", "/api/export/facts", "/api/export/settled"):
        assert phone.get(path).json()["code"] == "verify_again", path

    assert _registered(phone)[1].status_code == 200
    phone.exchange()
    assert {one["kind"] for one in phone.events.values()} == {"weighed", "symptom"}
    soigneur = world.join("red", "soigneur")
    soigneur.exchange()
    assert not soigneur.last.get("is_held_back")


def test_a_person_is_told_when_each_of_his_devices_came_in(world, asking):
    doctor, _, key = asking
    before_ms = clock.now_ms()
    _sign_in(world, key, device_name="stranger")

    devices = {one["name"]: one for one in doctor.get("/api/devices").json()}

    assert before_ms <= devices["stranger"]["joined_at_ms"] <= clock.now_ms()
    assert devices["doctor"]["joined_at_ms"] <= before_ms
    assert [one["act"] for one in doctor.get("/api/me/ledger").json()][:1] == ["joined"]
