"""Joining: once, in time, and forgiving of a lost reply."""

import json
import subprocess
import sys

import msgspec
import pytest
from brinebook import clock
from brinebook.access import devices, invites, tokens


def _join(world, **body):
    return world.http.post("/api/join", content=json.dumps({"device_name": "d", **body}).encode())


@pytest.fixture
def made(world):
    return invites.invite(world.repository, "red", invites.Wanted(name="S", role="soigneur"))


def test_an_invitation_works_once(world, made):
    first = _join(world, secret=made.secret, device_key="one")
    second = _join(world, secret=made.secret, device_key="two")

    assert (first.status_code, second.status_code, second.json()["code"]) == (200, 410, "invite_unusable")
    assert first.json()["member"]["role"] == "soigneur"
    assert first.json()["team"]["id"] == "red"


def test_the_same_device_may_repeat_a_lost_reply_and_gets_the_same_token(world, made):
    first = _join(world, secret=made.secret, device_key="one").json()
    again = _join(world, secret=made.secret, device_key="one").json()

    assert (again["token"], again["device_id"]) == (first["token"], first["device_id"])


def test_without_a_device_key_there_is_no_second_time(world, made):
    assert [_join(world, secret=made.secret).status_code for _ in range(2)] == [200, 410]


def test_a_code_is_typed_as_people_type(world, made):
    typed = f" {made.code[:4].lower()}-{made.code[4:]} "

    assert _join(world, code=typed).status_code == 200


def test_a_rider_comes_in_on_a_phone_of_his_own_alone_and_his_invitation_stays_good(world):
    riders = invites.invite(world.repository, "red", invites.Wanted(role="rider", rider_id="r1"))
    refused = _join(world, secret=riders.secret, device_key="k", is_shared=True)
    alone = _join(world, secret=riders.secret, device_key="own")

    assert (refused.status_code, refused.json()["code"], alone.status_code) == (403, "rider_alone", 200)


def test_staff_may_come_in_on_a_phone_that_is_shared(world, made):
    assert _join(world, secret=made.secret, is_shared=True).status_code == 200


def test_an_invitation_runs_out(world, made):
    found = world.repository.invite_by_hash(tokens.sha(made.secret))
    world.repository.put_invite(msgspec.structs.replace(found, expires_at_ms=clock.now_ms() - 1))

    assert _join(world, secret=made.secret).status_code == 410


def test_forgiveness_runs_out(world, made):
    _join(world, secret=made.secret, device_key="one")
    found = world.repository.invite_by_hash(tokens.sha(made.secret))
    claimed_at_ms = clock.now_ms() - invites.FORGIVEN_MS - 1
    world.repository.put_invite(msgspec.structs.replace(found, claimed_at_ms=claimed_at_ms))

    assert _join(world, secret=made.secret, device_key="one").status_code == 410


def test_guessing_is_slowed_down(world, made):
    answers = [_join(world, code="AAAA AAAA") for _ in range(21)]

    assert [answer.status_code for answer in answers] == [410] * 20 + [429]
    assert int(answers[-1].headers["Retry-After"]) > 0
    assert _join(world, secret=made.secret).status_code == 429


def test_no_secret_is_at_rest(world, made):
    token = _join(world, secret=made.secret, device_key="one").json()["token"]
    world.repository.database.close()
    stored = b"".join(path.read_bytes() for path in world.services.settings.data.glob("brinebook.sqlite3*"))

    assert not [word for word in (made.secret, made.code, token) if word.encode() in stored]


@pytest.mark.parametrize("role", ["doctor", "admin"])
def test_a_physiologist_brings_in_nobody_who_sees_or_decides_more_than_he(world, role):
    """By no invitation, for a new person or for another device of one who is there, may he become what he is not."""
    admin, other, physiologist = (world.join("red", one) for one in ("admin", role, "physiologist"))
    for wanted in ({"role": role, "name": "X"}, {"member_id": other.member["id"]},
                   {"role": "coach", "member_id": other.member["id"]}):
        refused = physiologist.post("/api/invites", wanted)
        assert (refused.status_code, refused.json()["code"]) == (403, "not_yours")
        assert admin.post("/api/invites", wanted).status_code == 200
    assert physiologist.post("/api/invites", {"role": "soigneur", "name": "Y"}).status_code == 200
    assert physiologist.post("/api/invites", {"member_id": "nobody"}).status_code == 404


def test_trying_out_all_codes_takes_longer_than_they_live():
    """OWASP ASVS 5.0, 6.5.2: what has under 112 bits is kept under a slow, salted hash."""
    cost = subprocess.run(
        [sys.executable, "-c", "from brinebook.access import tokens; print(tokens.CODE_COST)"],
        capture_output=True, text=True, check=True,
    )
    n_codes, bytes_a_try = len(tokens.CODE_LETTERS) ** tokens.CODE_LENGTH, 128 * 8 * int(cost.stdout)
    machines_bytes_per_s = 5e12  # the memory of some three large graphics cards of 2025, from memory

    assert n_codes * bytes_a_try / machines_bytes_per_s > 30 * invites.LIFE_MS / 1000
    assert tokens.code_sha("ABCD2345", b"one store") != tokens.code_sha("ABCD2345", b"another")


def test_a_rider_is_invited_as_one_of_the_team(world):
    admin = world.join("red", "admin")

    unknown = admin.post("/api/invites", {"role": "rider", "rider_id": "b1"})
    known = admin.post("/api/invites", {"role": "rider", "rider_id": "r1"})

    assert (unknown.status_code, unknown.json()["field"]) == (400, "rider_id")
    joined = _join(world, secret=known.json()["link"].rsplit("/", 1)[1]).json()
    assert (joined["rider"]["id"], joined["member"]["name"]) == ("r1", "r1")


def test_a_second_phone_of_a_rider_is_the_same_person(world):
    first, second = world.join("red", "rider", "r1"), world.join("red", "rider", "r1")

    assert first.member["id"] == second.member["id"]
    assert first.token != second.token


def test_the_secret_stands_in_the_fragment_which_no_server_sees(world):
    link = world.join("red", "admin").post("/api/invites", {"role": "coach", "name": "C"}).json()["link"]

    assert link.startswith("https://book.example/#/join/")


@pytest.mark.parametrize(("role", "days"), [("rider", 180), ("soigneur", 35)])
def test_a_token_slides_while_it_is_used(world, role, days):
    phone = world.join("red", role, "r1" if role == "rider" else None)
    kept = world.repository.device("red", phone.device_id)
    now_ms = clock.now_ms()
    assert kept.expires_at_ms == pytest.approx(now_ms + days * devices.DAY_MS, abs=60_000)
    world.repository.put_device(msgspec.structs.replace(kept, expires_at_ms=now_ms + 1_000_000))

    assert phone.get("/api/me").status_code == 200

    assert world.repository.device("red", phone.device_id).expires_at_ms > now_ms + (days - 1) * devices.DAY_MS


def test_a_token_runs_out(world):
    phone = world.join("red", "coach")
    kept = world.repository.device("red", phone.device_id)
    world.repository.put_device(msgspec.structs.replace(kept, expires_at_ms=clock.now_ms() - 1))

    assert phone.get("/api/me").status_code == 401
