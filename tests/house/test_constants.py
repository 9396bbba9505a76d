"""A number has a home and a source: no literal of three or more significant digits in a model."""

import ast
import re

from brinebook.engine.sources import all_sources
from house.tree import ENGINE, files, tree

ALLOWED = {1000.0, 3600.0, 100.0, 1440.0, 180.0, 360.0, 273.15, 1e-12, 1e-9}


def _significant_digits(value: float) -> int:
    mantissa = f"{abs(value):.12e}".split("e")[0].rstrip("0")
    return len(mantissa.replace(".", ""))


def test_no_model_holds_a_literal_of_three_significant_digits():
    found = []
    for path in files(ENGINE, ".py"):
        if {"constants", "sources"} & set(path.relative_to(ENGINE).parts) or path.name == "units.py":
            continue
        for node in ast.walk(tree(path)):
            value = node.value if isinstance(node, ast.Constant) else None
            is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
            if is_number and value not in ALLOWED and _significant_digits(float(value)) >= 3:
                found.append(f"{path.relative_to(ENGINE)}:{node.lineno} {value}")

    assert found == []


def test_every_source_key_used_in_the_engine_is_in_the_bibliography():
    known = set(all_sources())
    used = set()
    for path in files(ENGINE, ".py"):
        used |= set(re.findall(r"Source key ``([A-Za-z0-9_]+)``", path.read_text(encoding="utf-8")))

    assert used
    assert used - known == set()


def test_every_source_says_what_it_is_used_for():
    assert [key for key, source in all_sources().items() if not (source.citation and source.used_for)] == []


def test_every_constant_stands_under_a_source_of_the_bibliography():
    """A key beside the number, in the comment of its block, or for the whole file in its first line."""
    known = {*all_sources(), "definition"}
    bare = []
    for path in files(ENGINE / "constants", ".py"):
        lines = path.read_text(encoding="utf-8").splitlines()
        if set(re.findall(r"\w+", lines[0])) & known:
            continue
        for node in tree(path).body:
            if isinstance(node, ast.Assign | ast.AnnAssign):
                first = node.lineno - 1
                while first > 0 and lines[first - 1].strip() and not lines[first - 1].startswith(("class", "@", ")")):
                    first -= 1
                words = set(re.findall(r"\w+", "\n".join(lines[first : node.end_lineno])))
                bare += [] if words & known else [f"{path.name}:{node.lineno}"]

    assert bare == []
