"""Figures without names for who may read them, readiness beside health, logs as JSON, and an end that loses nothing."""

import datetime as dt
import io
import json
import logging
import time
from types import SimpleNamespace

import pytest
from brinebook import clock, logs
from brinebook.api.routes import watching
from brinebook.api.routes.watching import may_watch
from brinebook.settings import Settings, with_environment
from brinebook.storage.errors import StorageUnavailable
from prometheus_client.parser import text_string_to_metric_families

LEVEL = {"volume_l": 0.25, "how": "level"}
TOKEN = "watcher-token"  # noqa: S105 made up here
N_PHONES = 3
MASS_KG, WORDS = 66.1373, "zwergspitz canary"


def _asking(host="127.0.0.1", **headers):
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return SimpleNamespace(client=SimpleNamespace(host=host), headers=named)


@pytest.mark.parametrize(("request_", "token", "may"), [
    (_asking(), "", True),
    (_asking("::1"), "", True),
    (_asking("10.0.0.7"), "", False),
    (_asking(x_forwarded_for="127.0.0.1"), "", False),
    (_asking(forwarded="for=127.0.0.1"), "", False),
    (_asking(), TOKEN, False),
    (_asking(authorization="Bearer wrong"), TOKEN, False),
    (_asking(authorization=""), TOKEN, False),
    (_asking("10.0.0.7", authorization=f"Bearer {TOKEN}"), TOKEN, True),
])
def test_figures_are_for_this_machine_or_for_the_token(request_, token, may):
    assert may_watch(request_, token) is may


def test_the_token_comes_from_the_environment(tmp_path):
    assert with_environment(Settings(data=tmp_path), {"BRINEBOOK_METRICS_TOKEN": TOKEN}).metrics_token == TOKEN


def _figures(text):
    return {
        (sample.name, tuple(sorted(sample.labels.items()))): sample.value
        for family in text_string_to_metric_families(text) for sample in family.samples
    }


@pytest.fixture
def watched(world, monkeypatch):
    monkeypatch.setattr(watching, "may_watch", lambda *_: True)
    return world


def test_a_stranger_reads_no_figures(world):
    assert world.http.get("/metrics").status_code == 401


def test_figures_count_requests_and_facts_and_hold_no_name_and_no_body(watched):
    rider, doctor = watched.join("red", "rider", "r1"), watched.join("red", "doctor")
    rider.exchange(rider.fact("weighed", "r1", {"moment": "before", "mass_kg": MASS_KG}))
    doctor.exchange(doctor.fact("symptom", "r1", {"symptom": "cramp", "text": WORDS}))
    watched.http.get("/api/me", headers={"Authorization": "Bearer stolen"})
    watched.http.get("/api/why/profile:r1", headers=doctor.headers)

    text = watched.http.get("/metrics").text
    figures = _figures(text)

    def answered(status, route, method="POST"):
        return figures["brinebook_requests_total", (("method", method), ("route", route), ("status", status))]

    assert figures["brinebook_facts", ()] == 2
    assert figures["brinebook_teams", ()] == 2
    assert answered("200", "/api/exchange") >= 2
    assert answered("401", "/api/me", "GET") == 1
    assert figures["brinebook_request_seconds_count", (("route", "/api/exchange"),)] >= 2
    secrets = ("red", "r1", str(MASS_KG), WORDS, rider.token, rider.member["id"], rider.device_id, "profile:r1")
    labels = {value for _, told in figures for _, value in told}
    assert labels & set(secrets) == set()
    assert [secret for secret in secrets[2:] if secret in text] == []


def test_ready_is_another_question_than_health(world, monkeypatch):
    assert world.http.get("/api/ready").json()["status"] == "ready"

    def broken(_):
        raise StorageUnavailable("gone")

    monkeypatch.setattr(type(world.repository), "team_ids", broken)
    answer = world.http.get("/api/ready")
    assert (answer.status_code, answer.json()["is_database_answering"]) == (503, False)
    assert world.http.get("/api/health").status_code == 200
    monkeypatch.undo()

    monkeypatch.setattr(watching.shutil, "disk_usage", lambda _: SimpleNamespace(free=1000))
    assert world.http.get("/api/ready").json()["has_room"] is False
    monkeypatch.undo()

    world.services.is_staying.clear()
    assert world.http.get("/api/ready").status_code == 503


@pytest.fixture
def logged():
    """Give what the two forms of logs make of a failure whose message carries health values and secrets."""
    root = logging.getLogger()
    before, level = list(root.handlers), root.level

    def told(form):
        logs.set_up(form)
        stream = io.StringIO()
        root.handlers[0].setStream(stream)
        try:
            float(f"{WORDS} {MASS_KG}")
        except ValueError:
            logging.getLogger("uvicorn.error").exception("Exception in ASGI application\n")
        logging.getLogger("brinebook.jobs").warning("a computation of %s failed", "a team")
        return stream.getvalue()

    yield told
    root.handlers[:] = before
    root.setLevel(level)


@pytest.mark.parametrize("form", logs.FORMS)
def test_no_form_of_the_log_tells_what_an_error_said(logged, form):
    told = logged(form)

    assert "ValueError" in told
    assert "test_watching.py" in told
    assert [secret for secret in (WORDS, str(MASS_KG)) if secret in told] == []


@pytest.mark.parametrize("form", logs.FORMS)
def test_every_form_of_the_log_tells_the_time_in_utc(logged, form, monkeypatch):
    monkeypatch.setenv("TZ", "Asia/Kolkata")
    time.tzset()
    try:
        line = logged(form).splitlines()[-1]
    finally:
        monkeypatch.undo()
        time.tzset()

    at = dt.datetime.fromisoformat(json.loads(line)["at"] if form == "json" else line.split(" ", 1)[0])
    assert at.utcoffset() == dt.timedelta(0)
    assert abs(at.timestamp() - clock.now_ms() / 1000) < 60


def test_json_logs_are_one_object_a_line(logged):
    first, second = (json.loads(line) for line in logged("json").splitlines())

    assert (first["error"], first["level"], first["logger"]) == ("ValueError", "error", "uvicorn.error")
    assert second["message"] == "a computation of a team failed"
    assert {"at", "level", "logger", "message"} == set(second)
