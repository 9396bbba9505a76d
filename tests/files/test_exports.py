"""Data out: read back by libraries that are not ours, with units in headings and no cell that runs as a formula."""

import csv
import io
import zipfile

import msgspec
import pyarrow.parquet as pq
import pytest
from brinebook.files.exports import TABLES, Table, to_csv, to_json, to_parquet, to_xlsx
from brinebook.planning.books import open_books
from brinebook.planning.recompute import Changed, recompute
from brinebook.records.edited import Rider
from brinebook.records.facts import BODY_BY_KIND
from planning.fakes import TEAM, stages_of, team

TRAPS = Table("traps", ("name", "mass_kg", "note"), (
    ("=1+1", 66.25, None), ('a "b", c', -0.5, "+x"), ("line\nbreak", None, ""),
))


@pytest.fixture(scope="module")
def books():
    repository, facts = team(n_stages=2, n_riders=1)
    repository.put_edited(TEAM, Rider(id="r1", name="=HYPERLINK(1)", race_number=41, version=1))
    facts.ride_a_stage("r1", stages_of(repository)["s1"], before_kg=68.0, after_kg=66.4, agreed_l=2.8)
    recompute(repository, TEAM, Changed(subject_ids=frozenset({"r1"}), kinds=frozenset(BODY_BY_KIND)))
    return open_books(repository, TEAM)


def test_csv_round_trips_through_a_reader_of_the_standard_library():
    rows = list(csv.reader(io.StringIO(to_csv(TRAPS).decode(), newline="")))

    assert rows[0] == ["name", "mass_kg", "note"]
    assert rows[1] == ["'=1+1", "66.25", ""]
    assert rows[2] == ['a "b", c', "-0.5", "'+x"]
    assert rows[3][0] == "line\nbreak"
    assert to_csv(TRAPS).count(b"\r\n") == 4


def test_a_workbook_holds_no_formula_and_figures_as_figures():
    with zipfile.ZipFile(io.BytesIO(to_xlsx([TRAPS]))) as book:
        sheet = book.read("xl/worksheets/sheet1.xml").decode()
        strings = book.read("xl/sharedStrings.xml").decode()

    assert "<f>" not in sheet
    assert "<v>66.25</v>" in sheet
    assert "'=1+1" in strings


def test_parquet_keeps_figures_as_floats_and_holes_as_holes(books):
    table = pq.read_table(io.BytesIO(to_parquet(TABLES["settled"](books))))

    assert table.column("agreed_drunk_l").to_pylist() == [2.8]
    assert table.column("mass_before_kg").to_pylist() == [68.0]
    assert str(table.schema.field("predicted_q50_l").type) == "double"


def test_settled_facts_and_plans_say_what_the_book_says(books):
    settled = TABLES["settled"](books)
    row = dict(zip(settled.columns, settled.rows[0], strict=True))
    facts = TABLES["facts"](books)

    assert (row["stage"], row["rider_number"], row["handed_up_l"], row["state"]) == (1, 41, 3.0, "settled")
    assert row["started_at"].endswith("+02:00")
    assert len(facts.rows) == len(books.facts)
    assert {dict(zip(facts.columns, one, strict=True))["kind"] for one in facts.rows} >= {"weighed", "agreed"}
    assert all(len(one) == len(TABLES["plans"](books).columns) for one in TABLES["plans"](books).rows)


def test_json_says_what_made_it_and_what_for(books):
    told = msgspec.json.decode(to_json([TABLES["settled"](books)], made_at_ms=0, purpose="evening report"))

    assert told["purpose"] == "evening report"
    assert told["made_at"] == "1970-01-01T00:00:00+00:00"
    assert told["tables"]["settled"][0]["rider"] == "=HYPERLINK(1)"
