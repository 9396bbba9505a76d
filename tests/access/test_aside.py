"""What a signed-out phone handed in: an admin keeps it or leaves it, once, under the rights of whoever made it."""

import pytest
from brinebook.access import ledger


def _revoked(world, role, *facts_of, rider_id=None):
    """Sign a phone out and let it hand in its last entries."""
    phone = world.join("red", role, *([rider_id] if rider_id else []))
    facts = [phone.fact(kind, subject, body) for kind, subject, body in facts_of]
    admin = world.join("red", "admin")
    assert admin.http.delete(f"/api/devices/{phone.device_id}", headers=admin.headers).status_code == 204
    assert phone.request(*facts).json()["code"] == "revoked"
    return phone, admin, facts


POURED = ("poured", "r1", {"volume_l": 0.3})


def test_an_entry_that_is_kept_reaches_everybody_as_its_authors(world):
    phone, admin, [fact] = _revoked(world, "soigneur", POURED)
    [found] = admin.get("/api/team/aside").json()
    assert (found["kind"], found["by"], found["body"]) == ("poured", phone.member["id"], {"volume_l": 0.3})

    answer = admin.post(f"/api/team/aside/{found['n']}", {"act": "kept"})

    assert (answer.status_code, answer.json()["status"]) == (200, "ok")
    admin.exchange()
    assert admin.events[fact["id"]]["by"] == phone.member["id"]
    assert admin.get("/api/team/aside").json() == []
    assert admin.post(f"/api/team/aside/{found['n']}", {"act": "kept"}).status_code == 404


def test_an_entry_that_is_left_stays_aside_for_good_and_is_asked_about_no_more(world):
    phone, admin, [fact] = _revoked(world, "soigneur", POURED)
    [found] = admin.get("/api/team/aside").json()

    assert admin.post(f"/api/team/aside/{found['n']}", {"act": "left"}).status_code == 200
    assert phone.request(fact).json()["code"] == "revoked"

    assert admin.get("/api/team/aside").json() == []
    assert world.repository.n_quarantined("red") == 1
    admin.exchange()
    assert fact["id"] not in admin.events


@pytest.mark.parametrize("act", ["kept", "left"])
def test_the_decision_stands_in_the_ledger_for_the_person_it_is_about(world, act):
    rider = world.join("red", "rider", "r1")
    _, admin, _ = _revoked(world, "soigneur", POURED)
    [found] = admin.get("/api/team/aside").json()
    admin.post(f"/api/team/aside/{found['n']}", {"act": act})

    told = [(one["act"], one["what"]) for one in rider.get("/api/me/ledger").json()]

    assert (act, "poured") in told
    assert ledger.verify(world.repository, "red") is None


def test_a_symptom_stands_aside_without_a_word_of_it_for_an_admin_and_is_kept_unread(world):
    _, admin, [fact] = _revoked(world, "doctor", ("symptom", "r1", {"symptom": "cramp", "severity": 2}))
    [found] = admin.get("/api/team/aside").json()
    assert "kind" not in found
    assert "body" not in found

    verdict = admin.post(f"/api/team/aside/{found['n']}", {"act": "kept"}).json()

    assert verdict["status"] == "ok", verdict
    doctor = world.join("red", "doctor")
    doctor.exchange()
    assert fact["id"] in doctor.events


def test_a_signed_out_phone_cannot_speak_for_somebody_else(world):
    doctor = world.join("red", "doctor")
    phone, admin, _ = _revoked(world, "soigneur")
    forged = phone.fact("poured", "r1", {"volume_l": 0.3}, by=doctor.member["id"])
    theirs = phone.fact("poured", "r1", {"volume_l": 0.3}, by=doctor.member["id"], device_id=doctor.device_id)
    beyond = phone.fact("sweat_sample", "r1", {})
    phone.request(forged, theirs, beyond)

    found = admin.get("/api/team/aside").json()
    verdicts = [admin.post(f"/api/team/aside/{one['n']}", {"act": "kept"}).json()["status"] for one in found]

    assert verdicts == ["rejected"] * 3
    assert len(admin.get("/api/team/aside").json()) == 3


def test_only_an_admin_of_the_team_reviews(world):
    _, admin, _ = _revoked(world, "soigneur", POURED)
    [found] = admin.get("/api/team/aside").json()
    for team_id, role in (("red", "physiologist"), ("red", "doctor"), ("red", "coach"), ("red", "soigneur")):
        phone = world.join(team_id, role)
        assert phone.get("/api/team/aside").status_code == 403
        assert phone.post(f"/api/team/aside/{found['n']}", {"act": "kept"}).status_code == 403
    foreign = world.join("blue", "admin")
    assert foreign.get("/api/team/aside").json() == []
    assert foreign.post(f"/api/team/aside/{found['n']}", {"act": "kept"}).status_code == 404
    assert admin.post(f"/api/team/aside/{found['n']}", {"act": "burnt"}).json()["code"] == "bad_record"


def test_one_act_ends_all_devices_of_a_person_but_the_one_that_asks(world):
    first, admin = world.join("red", "soigneur"), world.join("red", "admin")
    invited = admin.post("/api/invites", {"member_id": first.member["id"]}).json()
    secret = invited["link"].rsplit("/", 1)[1]
    second = world.http.post("/api/join", content=f'{{"secret":"{secret}"}}'.encode()).json()["token"]
    path = "/api/team/members/{}/devices"

    assert first.http.delete(path.format(first.member["id"]), headers=first.headers).status_code == 403
    assert admin.http.delete(path.format(first.member["id"]), headers=admin.headers).status_code == 204
    assert admin.http.delete(path.format(admin.member["id"]), headers=admin.headers).status_code == 204
    assert admin.http.delete(path.format("nobody"), headers=admin.headers).status_code == 404

    for token in (first.token, second):
        headers = {"Authorization": f"Bearer {token}"}
        assert world.http.get("/api/me", headers=headers).json()["code"] == "revoked"
    assert admin.get("/api/me").status_code == 200
