"""Reading changes nothing, no answer sets a cookie or leads elsewhere, and what is refused is written down."""

import json
import logging
import re

import pytest
from brinebook.records.edited import Drink, Rider, Stage, Team
from litestar.handlers import HTTPRouteHandler

NAMES = ("r1", "nothing", "1%0d%0aSet-Cookie: a=b")
LEFT_OUT = {"/api/live"}
"""Streams, which do not end by themselves; ``test_live.py`` reads them."""


def _calls(world):
    for route in world.http.app.routes:
        for handler in getattr(route, "route_handlers", []):
            if not isinstance(handler, HTTPRouteHandler) or route.path_format in LEFT_OUT:
                continue
            for method in sorted(handler.http_methods - {"HEAD", "OPTIONS"}):
                for name in NAMES if "{" in route.path_format else ("",):
                    yield method, re.sub(r"\{[\w:]+\}", name, route.path_format)


def _kept(world):
    repository = world.repository
    return {
        team_id: (
            repository.head(team_id), repository.documents(team_id), repository.members(team_id),
            [repository.all_edited(team_id, kind) for kind in (Team, Rider, Stage, Drink)],
            [(one.id, one.is_revoked, one.token_sha) for one in repository.devices(team_id)],
        )
        for team_id in ("red", "blue")
    }


def test_no_get_changes_what_is_kept(world):
    admin, rider = world.join("red", "admin"), world.join("red", "rider", "r1")
    rider.exchange(rider.fact("weighed", "r1", {"moment": "before", "mass_kg": 66.0}))
    before, tried = _kept(world), 0

    for method, path in _calls(world):
        if method == "GET":
            tried += 1
            world.http.get(path, headers=admin.headers)

    assert tried > 20
    assert _kept(world) == before


def test_no_answer_sets_a_cookie_or_leads_to_another_place(world):
    admin = world.join("red", "admin")

    for method, path in _calls(world):
        answer = world.http.request(method, path, headers=admin.headers, content=b"{}", follow_redirects=False)
        assert "set-cookie" not in answer.headers, (method, path)
        assert "location" not in answer.headers, (method, path)
        assert answer.status_code < 300 or answer.status_code >= 400, (method, path)


@pytest.mark.parametrize(("call", "code"), [
    (lambda world, _: world.http.get("/api/me", headers={"Authorization": "Bearer stolen-token"}), "not_signed_in"),
    (lambda world, _: world.http.post("/api/join", content=b'{"secret":"guessed"}'), "invite_unusable"),
    (lambda _, rider: rider.get("/api/team/devices"), "not_yours"),
    (lambda _, rider: rider.get("/api/export/facts"), "not_yours"),
])
def test_a_refusal_is_written_down_with_the_route_and_the_device_and_nothing_else(world, caplog, call, code):
    caplog.set_level(logging.WARNING, "brinebook.access")
    rider = world.join("red", "rider", "r1")

    assert call(world, rider).json()["code"] == code

    line, = [one.getMessage() for one in caplog.records if one.name == "brinebook.access"]
    assert f"refused: {code}, device " in line
    assert (rider.device_id in line) == (code == "not_yours")
    assert [word for word in ("stolen-token", "guessed", rider.token, rider.member["name"]) if word in line] == []


def test_a_line_break_in_an_address_makes_no_line_of_the_log(world, caplog, monkeypatch):
    doctor, forged = world.join("red", "doctor"), "/api/why/x%0d%0aERROR%20forged"

    def broken(*_, **__):
        raise RuntimeError("forged")

    world.http.get(forged, headers={"Authorization": "Bearer x"})
    monkeypatch.setattr(type(world.repository), "document", broken)
    assert doctor.get(forged).status_code == 500

    lines = [one.getMessage() for one in caplog.records if one.name.startswith("brinebook.")]
    assert [line.split(":")[0] for line in lines] == [
        "GET /api/why/{document_id} refused", "GET /api/why/{document_id} failed",
    ]
    assert [line for line in lines if "\n" in line or "forged" in line] == []


def test_what_is_wrong_with_a_body_is_no_refusal_of_a_person(world, caplog):
    caplog.set_level(logging.WARNING, "brinebook.access")

    assert world.join("red", "admin").post("/api/invites", {"role": json.dumps("king")}).status_code == 400

    assert [one for one in caplog.records if one.name == "brinebook.access"] == []
