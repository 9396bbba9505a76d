"""What is not said to be open is closed; a revoked device loses nothing real."""

import json

import pytest
from brinebook import clock
from litestar.handlers import HTTPRouteHandler

OPEN = {
    "/api/join", "/api/passkeys/options", "/api/passkeys/sign-in", "/api/health", "/api/ready", "/metrics", "/",
    "/{path:path}",
}


def _api_routes(world):
    for route in world.http.app.routes:
        for handler in getattr(route, "route_handlers", []):
            if isinstance(handler, HTTPRouteHandler):
                yield route.path_format, sorted(handler.http_methods - {"HEAD", "OPTIONS"})


@pytest.mark.parametrize(("method", "path", "allowed"), [
    ("PATCH", "/api/invites", "GET, OPTIONS, POST"), ("OPTIONS", "/api/invites", "GET, OPTIONS, POST"),
    ("DELETE", "/api/me/passkeys/options", "OPTIONS, POST"), ("PUT", "/api/me/passkeys/x", "DELETE, OPTIONS"),
])
def test_a_wrong_method_is_told_which_ones_there_are(world, method, path, allowed):
    """RFC 9110, 15.5.6: a 405 names the methods in Allow."""
    answer = world.http.request(method, path)

    assert (answer.status_code, answer.headers["allow"]) == (204 if method == "OPTIONS" else 405, allowed)


def test_every_route_but_the_open_ones_wants_a_token(world):
    tried = 0
    for path, methods in _api_routes(world):
        if path in OPEN or "{path" in path:
            continue
        for method in methods:
            tried += 1
            concrete = path.replace("{record_id}", "x").replace("{stage_id}", "x").replace("{rider_id}", "x")
            concrete = concrete.replace("{document_id}", "x").replace("{device_id}", "x").replace("{member_id}", "x")
            concrete = concrete.replace("{entry_id}", "1").replace("{passkey_id}", "x")
            for headers in ({}, {"Authorization": "Bearer wrong"}, {"Authorization": "Basic x"}):
                answer = world.http.request(method, concrete, headers=headers)
                assert (answer.status_code, answer.json()["code"]) == (401, "not_signed_in"), (method, path)
    assert tried >= 17


def test_a_revoked_device_is_refused_and_its_last_entries_are_kept_aside(world):
    soigneur, admin = world.join("red", "soigneur"), world.join("red", "admin")
    assert admin.http.delete(f"/api/devices/{soigneur.device_id}", headers=admin.headers).status_code == 204

    facts = [soigneur.fact("poured", "r1", {"volume_l": 0.1}) for _ in range(2)]
    answer = soigneur.request(*facts)

    assert (answer.status_code, answer.json()["code"]) == (403, "revoked")
    assert soigneur.get("/api/me").json()["code"] == "revoked"
    assert (world.repository.n_quarantined("red"), world.repository.head("red")) == (2, 0)


def test_a_device_of_another_team_cannot_be_revoked(world):
    soigneur, foreigner = world.join("red", "soigneur"), world.join("blue", "admin")

    answer = foreigner.http.delete(f"/api/devices/{soigneur.device_id}", headers=foreigner.headers)

    assert answer.status_code == 404
    assert soigneur.get("/api/me").status_code == 200


def test_a_person_sees_and_signs_out_own_devices_only(world):
    rider, other = world.join("red", "rider", "r2"), world.join("red", "soigneur")

    told = rider.get("/api/devices").json()
    refused = rider.http.delete(f"/api/devices/{other.device_id}", headers=rider.headers)
    done = rider.http.delete(f"/api/devices/{rider.device_id}", headers=rider.headers)

    assert [(one["id"], one["is_this"]) for one in told] == [(rider.device_id, True)]
    assert set(told[0]) == {"id", "name", "seen_at_ms", "joined_at_ms", "is_this"}
    assert abs(told[0]["seen_at_ms"] - clock.now_ms()) < 60_000
    assert (refused.status_code, done.status_code) == (404, 204)
    assert rider.get("/api/me").json()["code"] == "revoked"
    assert other.get("/api/me").status_code == 200


def test_me_tells_who_this_is(world):
    rider = world.join("red", "rider", "r2")

    told = rider.get("/api/me").json()

    assert (told["rider"]["id"], told["team"]["id"], told["member"]) == ("r2", "red", rider.member)


@pytest.mark.parametrize("body", [b"", b"{", b"[]", b"\xff", json.dumps({"protocol": "x", "device_id": "d"}).encode()])
def test_an_unreadable_exchange_is_told_what_is_wrong(world, body):
    answer = world.join("red", "coach").post("/api/exchange", content=body or b" ")

    assert (answer.status_code, answer.json()["code"]) == (400, "bad_record")
    assert answer.json()["limit"]
