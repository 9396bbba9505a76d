"""A device's token: stolen, replayed, rotated, guessed; and what a lost phone's finder can still do."""

import json

import numpy as np
import zxingcpp
from brinebook import clock
from brinebook.access import invites
from support.world import Phone


def _rotated(phone: Phone) -> Phone:
    token = phone.post("/api/me/token").json()["token"]
    return Phone(phone.http, token, phone.member, phone.device_id)


def test_the_old_token_is_good_until_the_new_one_is_used(world):
    phone = world.join("red", "soigneur")
    renewed = _rotated(phone)

    assert phone.get("/api/me").status_code == 200
    assert renewed.get("/api/me").status_code == 200
    assert phone.get("/api/me").status_code == 401
    assert renewed.get("/api/me").json()["device_id"] == phone.device_id


def test_a_lost_reply_is_asked_again_and_locks_nobody_out(world):
    phone = world.join("red", "rider", "r1")
    lost, renewed = _rotated(phone), _rotated(phone)

    assert lost.get("/api/me").status_code == 401
    assert phone.exchange(phone.fact("poured", "r1", {"volume_l": 0.1}))[0]["status"] == "ok"
    assert renewed.exchange() == []
    assert phone.request().status_code == 401


def test_a_thief_who_rotates_is_shown_by_the_owner_being_signed_out_and_is_revoked(world):
    owner, admin = world.join("red", "rider", "r1"), world.join("red", "admin")
    thief = _rotated(Phone(owner.http, owner.token, owner.member, owner.device_id))
    thief.get("/api/me")

    assert owner.get("/api/me").json()["code"] == "not_signed_in"
    assert admin.http.delete(f"/api/devices/{owner.device_id}", headers=admin.headers).status_code == 204
    assert thief.get("/api/me").json()["code"] == "revoked"
    assert thief.post("/api/me/token").json()["code"] == "revoked"


def test_a_revoked_phone_hands_over_its_entries_and_learns_nothing(world):
    phone, admin = world.join("red", "rider", "r1"), world.join("red", "admin")
    admin.http.delete(f"/api/devices/{phone.device_id}", headers=admin.headers)

    answer = phone.request(phone.fact("poured", "r1", {"volume_l": 0.1}))

    assert (answer.status_code, answer.json()["code"]) == (403, "revoked")
    assert set(answer.json()) <= {"type", "title", "status", "code", "epoch"}
    assert world.repository.n_quarantined("red") == 1


def test_nobody_chooses_the_token_or_the_device_he_gets(world):
    """Fixation: what a stranger hands in never becomes a credential."""
    made = invites.invite(world.repository, "red", invites.Wanted(name="S", role="soigneur"))
    chosen = {"secret": made.secret, "device_key": "k", "token": "mine", "device_id": "mine", "role": "admin"}

    joined = world.http.post("/api/join", content=json.dumps(chosen).encode()).json()

    assert "mine" not in {joined["token"], joined["device_id"]}
    assert joined["member"]["role"] == "soigneur"
    assert world.http.get("/api/me", headers={"Authorization": "Bearer mine"}).status_code == 401


def test_a_foreign_page_can_do_nothing_since_no_cookie_is_a_credential(world):
    """CSRF: a browser sends cookies by itself, a bearer token never."""
    phone = world.join("red", "admin")
    answer = phone.get("/api/me")
    forged = world.http.post(
        "/api/invites", content=b'{"role":"admin","name":"X"}',
        headers={"Cookie": f"token={phone.token}", "Origin": "https://elsewhere.example", "Content-Type": "text/plain"},
    )

    assert "set-cookie" not in answer.headers
    assert "access-control-allow-origin" not in answer.headers
    assert forged.status_code == 401


def test_wrong_codes_slow_down_joining_and_never_an_exchange(world):
    rider = world.join("red", "rider", "r1")
    codes = [json.dumps({"code": f"ABCD{n:04d}".replace("0", "2")}).encode() for n in range(40)]
    statuses = [world.http.post("/api/join", content=code).status_code for code in codes]
    wrong = [world.http.get("/api/me", headers={"Authorization": f"Bearer {n}"}).status_code for n in range(60)]

    assert statuses.count(429) == 20
    assert set(wrong) == {401}
    assert rider.exchange(rider.fact("poured", "r1", {"volume_l": 0.1}))[0]["status"] == "ok"
    assert rider.post("/api/me/token").status_code == 200


def test_those_who_plan_see_the_teams_devices_and_nobody_elses(world):
    phone, admin, foreign = world.join("red", "rider", "r1"), world.join("red", "admin"), world.join("blue", "admin")
    found = {one["id"]: one for one in admin.get("/api/team/devices").json()}

    assert set(found) == {phone.device_id, admin.device_id}
    assert found[admin.device_id]["is_this"]
    assert abs(found[phone.device_id]["seen_at_ms"] - clock.now_ms()) < 60_000
    assert phone.get("/api/team/devices").status_code == 403
    assert [one["id"] for one in foreign.get("/api/team/devices").json()] == [foreign.device_id]


def test_an_invitation_comes_as_link_code_and_qr_that_a_reader_reads(world):
    made = world.join("red", "admin").post("/api/invites", {"role": "coach", "name": "C"}).json()
    cells = np.array([[255 * (cell == "0") for cell in row] for row in made["qr_rows"]], dtype=np.uint8)
    picture = np.kron(np.pad(cells, 4, constant_values=255), np.ones((6, 6), dtype=np.uint8))

    assert [one.text for one in zxingcpp.read_barcodes(picture)] == [made["link"]]
    assert "#/join/" in made["link"]
