"""
Every operation of the API as its OpenAPI description tells it: every check of schemathesis, as every role.

The library makes calls at the edges of each type (coverage), others by chance (fuzzing), and chains of calls that use
what earlier ones answered (stateful), right and wrong ones alike. ``BRINEBOOK_EXAMPLES=50`` makes more of them and
gives every role the whole of it; the short run gives that to an admin, and to the others calls by chance.
"""

import os
import re
from collections import Counter
from dataclasses import dataclass, field

import pytest
import schemathesis
from brinebook.api.description import describe
from brinebook.files import copies
from schemathesis import engine, hooks
from schemathesis.checks import CHECKS
from schemathesis.config import SchemathesisConfig
from schemathesis.engine import events
from support.world import ROLES, open_world

N_EXAMPLES = int(os.environ.get("BRINEBOOK_EXAMPLES", "0"))
SHORT_EXAMPLES = 3
ENDLESS = "/api/live"
"""The stream has no end; its own tests are in ``test_live.py`` and ``tests/access/test_probe_live.py``."""
HARMLESS_5XX = ["503"]
"""The server may lack what printing needs, and says so."""
READABLE = ["2xx", "401", "403", "404", "409", "429", "503"]
FILES = "what a course, a table or a recording holds is no matter of a schema; tests/files and tests/fuzz hold it"
FIGURES = "figures that must add up with each other or with other records"
BEYOND_A_SCHEMA: dict[str, tuple[str, list[str]]] = {
    "POST /api/join": ("which secrets are good", ["410"]),
    "POST /api/push-subscription": ("which hosts carry wake-ups", ["400"]),
    "PUT /api/drinks/{record_id}": (FIGURES, ["400"]),
    "PUT /api/supplies/{record_id}": (FIGURES, ["400"]),
    "PUT /api/stages/{record_id}": (FIGURES, ["400"]),
    "PUT /api/kits/{record_id}": ("a team has one kit, of a given id", ["400"]),
    "PUT /api/plan-goals/{record_id}": ("a team has one set of goals, of a given id", ["400"]),
    "GET /api/export/{table}": ("which forms hold several tables", ["422"]),
    "PUT /api/team/months/{sort}": ("each sort has a floor and a ceiling of its own", ["400"]),
    "POST /api/labels/read": (FIGURES, ["422"]),
    "POST /api/recipes/read": (FIGURES, ["422"]),
    "POST /api/invites": ("which riders there are", ["400"]),
    "POST /api/import/{what}": (FILES, ["400", "422"]),
    "POST /api/stages/{stage_id}/course": (FILES, ["400", "422"]),
    "POST /api/stages/{stage_id}/made-course": ("a length and a climb that fit one road", ["422"]),
    "POST /api/stages/{stage_id}/forecast": (FILES, ["400", "422"]),
    "POST /api/stages/{stage_id}/rides/{rider_id}": (FILES, ["400", "422"]),
    "POST /api/stages/{stage_id}/rides/{rider_id}/preview": (FILES, ["400", "422"]),
}
"""Where a call that fits its schema may still be refused: why, and with which status; everywhere else it may not."""


TOO_MUCH = {"POST /api/exchange": ["4xx"]}
"""Where what is too much is refused as such, by 413: a phone then sends it in halves."""


@dataclass
class Found:
    """What a run of the library did and found."""

    calls: Counter = field(default_factory=Counter)
    checks: Counter = field(default_factory=Counter)
    statuses: Counter = field(default_factory=Counter)
    operations: set[str] = field(default_factory=set)
    failures: list[str] = field(default_factory=list)

    def take(self, event: events.ScenarioFinished) -> None:
        for case_id, checks in event.recorder.checks.items():
            interaction = event.recorder.interactions.get(case_id)
            for check in checks:
                self.checks[check.name] += 1
                if check.failure_info is not None:
                    request = interaction.request if interaction else None
                    told = (request.method, request.uri, (request.body or b"")[:300]) if request else ()
                    answered = interaction.response.content[:300] if interaction and interaction.response else b""
                    self.failures.append(f"{check.name} {event.label} {told} {check.failure_info.failure} {answered!r}")
        for interaction in event.recorder.interactions.values():
            self.calls[event.phase.value] += 1
            self.statuses[interaction.response.status_code if interaction.response else 0] += 1
            self.operations.add(event.label or "")


@pytest.fixture(scope="module")
def world(tmp_path_factory):
    """A server whose slow printer is a stand-in: each call of a copy would take a second."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(copies, "pdf_apart", lambda html: html.encode())
        yield from open_world(tmp_path_factory.mktemp("schema"))


@pytest.fixture(scope="module")
def described(world):
    return describe(world.http.app)


def _configured(token, *, n_examples, is_whole):
    generation = {"max-examples": n_examples, "deterministic": True, "no-shrink": True}
    return SchemathesisConfig.from_dict({
        "headers": {"Authorization": f"Bearer {token}"}, "generation": generation, "continue-on-failure": True,
        "phases": {
            "examples": {"enabled": False}, "coverage": {"enabled": is_whole}, "fuzzing": {"enabled": True},
            "stateful": {"enabled": is_whole},
        },
        "checks": {
            "enabled": True, "not_a_server_error": {"expected-statuses": ["2xx", "3xx", "4xx", *HARMLESS_5XX]},
            "positive_data_acceptance": {"expected-statuses": READABLE},
        },
        "operations": [
            {"include-path": ENDLESS, "enabled": False},
            *({"include-name": name, "checks": {"positive_data_acceptance": {"expected-statuses": READABLE + more}}}
              for name, (_, more) in BEYOND_A_SCHEMA.items()),
            *({"include-name": name, "checks": {"negative_data_rejection": {"expected-statuses": statuses}}}
              for name, statuses in TOO_MUCH.items()),
        ],
        "suppress-health-check": ["all"], "warnings": False,
    })


def _without_points(value):
    """Write whole numbers as such: to a schema 3.0 is an integer, to this server and to every phone it is none."""
    if isinstance(value, float) and value.is_integer():
        return int(value)
    if isinstance(value, list):
        return [_without_points(one) for one in value]
    return {key: _without_points(one) for key, one in value.items()} if isinstance(value, dict) else value


def _run(world, described, phones, role, **how):
    app, found = world.http.app, Found()
    kept = {one.device_id for one in phones.values()} | {one.member["id"] for one in phones.values()}

    async def running(scope, receive, send):
        if scope["type"] == "lifespan":
            raise RuntimeError("it runs already")
        await app(scope, receive, send)

    schema = schemathesis.openapi.from_dict(described, config=_configured(phones[role].token, **how))
    schema.app = running

    def before_call(_context, case, _given):
        """Say what no schema can, ids that agree and a time zone there is; and sign no caller out."""
        given = case.path_parameters or {}
        case.body = _without_points(case.body)
        if isinstance(case.body, dict) and "record_id" in given and case.meta.generation.mode.is_positive:
            case.body["id"] = given["record_id"]
            case.body |= {"time_zone": "Europe/Paris"} if "time_zone" in case.body else {}
        for name in {"device_id", "member_id"} & given.keys():
            given[name] = "somebody-else" if given[name] in kept else given[name]

    schemathesis.hook(before_call)
    try:
        for event in engine.from_schema(schema).execute():
            assert not isinstance(event, events.NonFatalError | events.FatalError), vars(event)
            if isinstance(event, events.ScenarioFinished):
                found.take(event)
    finally:
        hooks.unregister(before_call)
    return found


@pytest.fixture(scope="module")
def phones(world):
    """Let everybody in first: wrong codes slow down whoever joins later."""
    for role in ROLES:
        world.join("red", role)
    return {role: world.join("red", role, "r1" if role == "rider" else None) for role in (*ROLES, "rider")}


@pytest.mark.parametrize("role", [*ROLES, "rider"])
def test_every_operation_answers_as_it_is_described(world, described, phones, role):
    is_whole = role == "admin" or N_EXAMPLES > 0

    found = _run(world, described, phones, role, n_examples=N_EXAMPLES or SHORT_EXAMPLES, is_whole=is_whole)

    print(f"{role}: {dict(found.calls)} calls, {sum(found.checks.values())} checks, {dict(found.statuses)}")
    assert not found.failures, "\n".join(found.failures[:40])
    assert {status for status in found.statuses if status >= 500} <= {503}
    n_operations = sum(map(len, described["paths"].values()))
    assert len(found.operations) >= n_operations - 1
    assert not is_whole or set(CHECKS.get_all_names()) - {"max_response_time"} <= set(found.checks)


def test_the_description_knows_every_route(world, described):
    routes = {
        (method.lower(), re.sub(r":\w+", "", route.path_format)) for route in world.http.app.routes
        for method in route.methods - {"OPTIONS", "HEAD"} if route.path_format.startswith(("/api/", "/metrics"))
    }

    assert routes == {(method, path) for path, methods in described["paths"].items() for method in methods}
    assert len(routes) > 60


def test_only_these_operations_are_open_to_nobody_in_particular(described):
    open_ones = {path for path, methods in described["paths"].items() for one in methods.values()
                 if "security" not in one}

    assert open_ones == {
        "/api/join", "/api/passkeys/options", "/api/passkeys/sign-in", "/api/health", "/api/ready", "/metrics",
    }
