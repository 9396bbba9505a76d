"""
The API in OpenAPI 3.1: what each operation takes and gives, made from the types that decode and encode it.

Whoever writes a client reads ``python -m brinebook describe``; the tests call every operation as it is described here.
"""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from inspect import Parameter, signature
from typing import Any, get_args

import msgspec
from litestar import Litestar
from litestar.handlers import HTTPRouteHandler

from brinebook import __version__
from brinebook.api.auth import BearerMiddleware
from brinebook.api.described import GIVEN, OPERATIONS, QUERIES, Binary, Fact, Told
from brinebook.api.problems import Problem

JSON = "application/json"
PROBLEM = "application/problem+json"
REFERENCE = "#/components/schemas/{name}"
BYTES = {"type": "string", "format": "binary"}
SIGNED_IN = (401, 403)
OF_EVERYTHING = (400, 503)
"""A request may be unreadable, and the store may not answer."""
WITH_BODY = (413,)
WITH_PATH = (404,)
TOO_MANY = 429
WORDS = {
    200: "Done.", 204: "Done; nothing to say.", 400: "The request cannot be read.", 401: "Not signed in.",
    403: "Not for this person to see or do, or signed out, or a passkey is asked for first.",
    404: "There is no such thing, or not for this person.", 409: "Somebody else changed it first.",
    410: "This invitation can no longer be used.", 413: "Too much at once.",
    422: "Readable, and cannot be true or computed.", 429: "Too many wrong codes.", 503: "Try again later.",
}
PLACE = re.compile(r"\{(\w+):\w+\}")


@dataclass(frozen=True)
class _Doorway:
    method: str
    path: str
    handler: HTTPRouteHandler
    told: Told


def _handlers(app: Litestar) -> Iterable[tuple[str, HTTPRouteHandler]]:
    for route in app.routes:
        for handler in getattr(route, "route_handlers", ()):
            if route.path.startswith(("/api", "/metrics")):
                yield route.path, handler


def _doorways(app: Litestar) -> list[_Doorway]:
    found = [
        _Doorway(method.lower(), path, handler, OPERATIONS[str(handler.handler_name)])
        for path, handler in _handlers(app) for method in handler.http_methods - {"OPTIONS", "HEAD"}
    ]
    return sorted(found, key=lambda one: (one.path, one.method))


def _is_signed_in(handler: HTTPRouteHandler) -> bool:
    return BearerMiddleware in handler.resolve_middleware()


def _function(handler: HTTPRouteHandler) -> Callable[..., Any]:
    """Give the function as it was written: one that runs in a thread is wrapped."""
    function: Any = handler.fn
    written: Callable[..., Any] = getattr(function, "func", function)
    return written


class _Types:
    """The schemas of all types of all operations; made at once, so that each name is given once."""

    def __init__(self, doorways: list[_Doorway]) -> None:
        found: list[Any] = [Problem, Fact]
        for one in doorways:
            found += [type_ for type_ in (one.told.takes, one.told.gives) if type_ and not isinstance(type_, Binary)]
        schemas, self.components = msgspec.json.schema_components(found, ref_template=REFERENCE)
        self._made = list(zip(found, schemas, strict=True))

    def of(self, type_: Any) -> dict[str, Any]:
        """Give the schema of a type."""
        return next(schema for known, schema in self._made if known == type_)

    def content(self, told: Any) -> dict[str, Any]:
        """Give what a body may be, by media type."""
        if told is None:
            return {}
        if isinstance(told, Binary):
            return {media: {"schema": {} if media == JSON else BYTES} for media in told.media}
        return {JSON: {"schema": self.of(told)}}


def _parameters(path: str, handler: HTTPRouteHandler) -> list[dict[str, Any]]:
    in_path = set(PLACE.findall(path))
    told = []
    for name, one in signature(_function(handler)).parameters.items():
        if name in in_path:
            schema = GIVEN.get(name, {"type": "string", "minLength": 1, "maxLength": 200})
            told.append({"name": name, "in": "path", "required": True, "schema": schema})
        elif "FromQuery" in str(one.annotation) or name in QUERIES:
            told.append({"name": name, "in": "query", "required": False, "schema": _query(name, one)})
    return told


def _query(name: str, one: Parameter) -> dict[str, Any]:
    if name in QUERIES:
        return QUERIES[name]
    return msgspec.json.schema(get_args(one.annotation)[0])


def _statuses(one: _Doorway) -> set[int]:
    refused = {*OF_EVERYTHING, *one.told.refused, *(WITH_BODY if one.told.takes is not None else ())}
    refused |= set(SIGNED_IN) if _is_signed_in(one.handler) else set()
    return refused | (set(WITH_PATH) if PLACE.search(one.path) else set())


def _answers(one: _Doorway, types: _Types) -> dict[str, Any]:
    done = types.content(one.told.gives)
    answers: dict[str, Any] = {str(one.told.status): {"description": WORDS[one.told.status], "content": done}}
    for status in sorted(_statuses(one)):
        content = {PROBLEM: {"schema": types.of(Problem)}}
        answers[str(status)] = {
            "description": WORDS[status], "content": content | (done if status == one.told.unready else {}),
        }
    if TOO_MANY in _statuses(one):
        answers[str(TOO_MANY)]["headers"] = {"Retry-After": {"schema": {"type": "integer"}, "required": True}}
    return answers


def _operation(one: _Doorway, types: _Types) -> dict[str, Any]:
    words = (_function(one.handler).__doc__ or "").strip().split("\n")[0]
    described: dict[str, Any] = {
        "operationId": str(one.handler.handler_name), "summary": words, "responses": _answers(one, types),
        "parameters": _parameters(one.path, one.handler),
    }
    if one.told.takes is not None:
        described["requestBody"] = {"required": True, "content": types.content(one.told.takes)}
    if _is_signed_in(one.handler):
        described["security"] = [{"device": []}]
    return described


def describe(app: Litestar) -> dict[str, Any]:
    """Describe every operation the app answers to; the built app's own files are no part of the API."""
    doorways = _doorways(app)
    types = _Types(doorways)
    paths: dict[str, dict[str, Any]] = {}
    for one in doorways:
        paths.setdefault(PLACE.sub(r"{\1}", one.path), {})[one.method] = _operation(one, types)
    return {
        "openapi": "3.1.0", "info": {"title": "Brinebook", "version": __version__}, "paths": paths,
        "components": {
            "schemas": types.components,
            "securitySchemes": {"device": {"type": "http", "scheme": "bearer"}},
        },
    }
