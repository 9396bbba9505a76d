"""
Every operation of the API, called with what its OpenAPI description allows and with bodies nobody described.

``BRINEBOOK_EXAMPLES=500`` calls each more often.
"""

import json
import os
from urllib.parse import quote

import pytest
import schemathesis
from brinebook import app as composition
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from litestar import Litestar
from litestar.openapi.config import OpenAPIConfig
from support.world import open_world

N_EXAMPLES = int(os.environ.get("BRINEBOOK_EXAMPLES", "6"))
ENDLESS = {"/api/live"}
HARMLESS_5XX = {503}
"""The server may lack what printing needs, and says so."""
NAMES = (
    "id", "version", "name", "rider_id", "role", "member_id", "protocol", "device_id", "cursor", "events", "limit",
    "secret", "code", "recipe", "stage_id", "endpoint", "keys", "mass_kg", "course", "kind",
    "number", "race_number", "portions",
)
KEYS = st.sampled_from(NAMES)
PLAIN = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=20) | KEYS
VALUES = st.recursive(
    PLAIN, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(KEYS, inner, max_size=6), max_leaves=12,
)
BODIES = st.binary(max_size=60) | st.dictionaries(KEYS, VALUES, max_size=12).map(
    lambda body: json.dumps(body).encode(),
) | VALUES.map(lambda body: json.dumps(body).encode())


@pytest.fixture(scope="module")
def described(tmp_path_factory):
    """Run the app with its description switched on, which it is not when it serves."""
    patch = pytest.MonkeyPatch()
    config = OpenAPIConfig(title="Brinebook", version="1")
    patch.setattr(composition, "Litestar", lambda **given: Litestar(**{**given, "openapi_config": config}))
    for world in open_world(tmp_path_factory.mktemp("schema")):
        patch.undo()
        yield world, world.http.app.openapi_schema.to_schema()


def _operations(schema):
    found = (one.ok() for one in schemathesis.openapi.from_dict(schema).get_all_operations())
    return [one for one in found if one.path not in ENDLESS]


def _address(operation, case):
    path = operation.path
    for name, value in (case.path_parameters or {}).items():
        path = path.replace(f"{{{name}}}", quote(str(value), safe="") or "x")
    return path


def _n_calls(world, phone, operation):
    """Call one operation many times; every refusal is a problem by name, and none is the server's own failure."""
    made = []

    @given(case=operation.as_strategy(), body=BODIES)
    @settings(max_examples=N_EXAMPLES, deadline=None, database=None, phases=[Phase.generate], derandomize=True,
              suppress_health_check=list(HealthCheck))
    def call(case, body):
        path = _address(operation, case)
        made.append(path)
        answer = world.http.request(
            operation.method.upper(), path, params=dict(case.query or {}), content=body, headers=phone.headers,
        )
        assert answer.status_code < 500 or answer.status_code in HARMLESS_5XX, (path, body, answer.text)
        if answer.status_code >= 400 and path.startswith("/api/"):
            assert {"type", "title", "status", "code"} <= set(answer.json()), answer.text

    call()
    return len(made)


def test_no_call_of_any_operation_ends_in_a_server_error(described):
    world, schema = described
    phone = world.join("red", "admin")

    counted = {(one.method, one.path): _n_calls(world, phone, one) for one in _operations(schema)}

    print(f"{len(counted)} operations, {sum(counted.values())} calls")
    assert len(counted) > 35
    assert sum(counted.values()) > 150


def test_the_description_knows_every_route(described):
    world, schema = described
    routes = {route.path_format for route in world.http.app.routes if route.path_format.startswith("/api/")}

    assert routes <= set(schema["paths"])
