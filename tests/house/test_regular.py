"""The house stays regular: records have twins, packages are mapped, published rows have sources."""

import csv
import re
import tomllib

import msgspec
import pytest
from brinebook.records import derived, edited, explained, facts, plan_parts, wire
from house.tree import PACKAGE, ROOT, files

STATUSES = {"VERIFIED", "SECOND-HAND", "LIBRARY", "EQUATION", "MEMORY", "PIN", "PRACTICE"}
CASES = {"SN": 48, "SL": 59, "FB": 62, "SW": 33}
"""The check cases of the literature review, from 01 to these; a letter behind a number is a second row of one case."""
PUBLISHED = sorted((ROOT / "tests" / "engine" / "published").glob("*.csv"))


def _structs():
    for module in (facts, edited, derived, explained, plan_parts, wire):
        for value in vars(module).values():
            if isinstance(value, type) and issubclass(value, msgspec.Struct) and value.__module__ == module.__name__:
                yield value


@pytest.mark.parametrize("struct", list(_structs()), ids=lambda struct: struct.__name__)
def test_every_record_field_has_a_typescript_twin(struct):
    twins = sorted((ROOT / "pwa" / "src" / "protocol").glob("*.ts"))
    twin = "\n".join(path.read_text(encoding="utf-8") for path in twins)
    missing = [name for name in struct.__struct_fields__ if not re.search(rf"\b{name}\b", twin)]

    assert missing == []


def test_every_package_is_on_the_map():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    packages = {path.parent.name for path in files(PACKAGE, ".py") if path.name == "__init__.py"} - {"brinebook"}

    assert {name for name in packages if f"`{name}/`" not in text and f"{name}/" not in text} == set()


@pytest.mark.parametrize("table", PUBLISHED, ids=lambda path: path.stem)
def test_every_published_row_has_a_source_and_a_status(table):
    with table.open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    about = tomllib.loads(table.with_suffix(".toml").read_text(encoding="utf-8"))

    assert about
    assert rows
    assert [row["id"] for row in rows if row["status"] not in STATUSES or not row["source"]] == []
    assert len({row["id"] for row in rows}) == len(rows)


def _published_rows():
    for table in PUBLISHED:
        with table.open(encoding="utf-8") as stream:
            for row in csv.DictReader(stream):
                yield table.stem, row


def test_no_check_case_is_missing_from_the_published_tables():
    found = {re.match(r"[A-Z]+-\d+", row["id"])[0] for _, row in _published_rows() if "-" in row["id"]}
    wanted = {f"{prefix}-{number:02d}" for prefix, last in CASES.items() for number in range(1, last + 1)}

    assert wanted - found == set()
    assert {id_ for id_ in found if id_.split("-")[0] in CASES} - wanted == set()


def test_every_published_row_is_run_by_a_test():
    """A row names the function of a test file beside it; a row that nothing runs would say nothing."""
    tests = " ".join(path.read_text(encoding="utf-8") for path in files(ROOT / "tests" / "engine", ".py"))
    engine = " ".join(path.read_text(encoding="utf-8") for path in files(PACKAGE / "engine", ".py"))

    assert [row["id"] for _, row in _published_rows()
            if f'"{row["function"]}"' not in tests and f"def {row['function']}(" not in engine] == []
    assert [table.stem for table in PUBLISHED if f"{table.stem}" not in tests] == []


def test_trade_facts_are_marked_as_common_practice():
    assert [row["id"] for _, row in _published_rows()
            if (row["status"] == "PRACTICE") != row["source"].startswith("common practice")] == []


def test_every_catalogue_sentence_is_a_sentence():
    for path in (PACKAGE / "locales").glob("*.json"):
        catalogue = msgspec.json.decode(path.read_bytes(), type=dict[str, str])
        assert [key for key, text in catalogue.items() if not text.strip()] == []


def test_every_equation_is_sourced_and_said_in_words():
    from brinebook.engine.explain import EQUATIONS
    from brinebook.engine.sources import all_sources

    said = msgspec.json.decode((PACKAGE / "locales" / "en.json").read_bytes(), type=dict[str, str])

    assert [key for key in EQUATIONS if f"equation.{key}" not in said] == []
    assert {key for equation in EQUATIONS.values() for key in equation.sources} - set(all_sources()) == set()
