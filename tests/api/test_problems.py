"""Every error of ours has a row in the one table; nothing private leaks from the unexpected."""

import importlib
import json
import pkgutil

import brinebook
import pytest
from brinebook.api import problems
from brinebook.engine.errors import UnphysicalInput
from brinebook.storage.errors import StaleWrite, StorageUnavailable


def _own_errors():
    for module in pkgutil.walk_packages(brinebook.__path__, "brinebook."):
        if not module.name.endswith(".errors"):
            continue
        for value in vars(importlib.import_module(module.name)).values():
            if isinstance(value, type) and issubclass(value, Exception) and value.__module__ == module.name:
                yield value


def test_the_table_is_total():
    errors = list(_own_errors())

    assert len(errors) >= 15
    assert [kind.__name__ for kind in errors if kind not in problems.TABLE] == []


def test_every_code_has_one_status():
    by_code = {}
    for row in problems.TABLE.values():
        by_code.setdefault(row.code, set()).add(row.status)

    assert {code: statuses for code, statuses in by_code.items() if len(statuses) > 1} == {}


def test_a_problem_carries_field_value_and_limit():
    problem = problems.problem_record(UnphysicalInput("duration_h", -1.0))

    assert (problem.status, problem.field, problem.value) == (422, "duration_h", "-1.0")


def test_the_unexpected_says_nothing():
    problem = problems.problem_record(ValueError("sodium was 61.25"))

    assert (problem.status, problem.code, problem.detail, problem.value) == (500, "internal", "", "")


def test_a_stale_edit_carries_the_newer_record():
    problem = problems.problem_record(StaleWrite("rider", "r1", 1, 2, b'{"id":"r1"}'))

    assert json.loads(bytes(problem.current)) == {"id": "r1"}


@pytest.mark.parametrize(("path", "status"), [("/api/none", 404), ("/api", 404), ("/nothing-built", 404)])
def test_what_is_not_there_is_a_problem_too(world, path, status):
    answer = world.http.get(path)

    assert (answer.status_code, answer.json()["status"]) == (status, status)
    assert answer.headers["content-type"] == "application/problem+json"


def test_a_wrong_method_is_a_problem_too(world):
    assert world.http.put("/api/join").json()["code"] == "method_not_allowed"


def test_a_store_that_does_not_answer_says_when_to_come_back():
    record = problems.problem_record(StorageUnavailable("disk full"))

    assert (record.status, record.code, record.after_s) == (503, "unavailable", 2)
