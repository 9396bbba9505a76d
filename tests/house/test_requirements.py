"""The map's table of requirements names tests that are there."""

import re

import pytest
from house.tree import ROOT

ROW = re.compile(r"^\| ([\d., to]+) \| .* \| `(tests/[\w/]+\.py)::(\w+)` \|$", flags=re.MULTILINE)
ROWS = ROW.findall((ROOT / "DEVELOPERS.md").read_text("utf-8"))


def test_the_table_was_read():
    assert len(ROWS) > 20


@pytest.mark.parametrize(("items", "path", "name"), ROWS)
def test_each_item_is_held_by_a_test_that_exists(items, path, name):
    source = (ROOT / path).read_text("utf-8")

    assert re.search(rf"^def {name}\(", source, flags=re.MULTILINE), f"{items}: {path}::{name}"
