"""Tables out and in, and the rules of a stage's day: who may, in which forms, and what a refusal says."""

import csv
import io
import json
import zipfile

import pyarrow.parquet as pq
import pytest
from brinebook.planning.race_rules import rules_told
from brinebook.records.edited import CoursePoint, FeedPoint, Stage

START_MS = 1_783_000_000_000


@pytest.fixture(autouse=True)
def stage(world):
    made = Stage(
        id="s1", version=1, number=1, day_index=1, name="=1+1 Harbour", kind="flat", start_at_ms=START_MS,
        time_zone="Europe/Paris", course=[CoursePoint(0.0, 100.0, 44.0, 5.0), CoursePoint(180.0, 100.0, 45.6, 5.0)],
        feed_points=[
            FeedPoint(id="start", name="Start", kind="start", km=0.0),
            FeedPoint(id="early", name="Early", kind="car", km=12.0),
            FeedPoint(id="zone", name="Zone", kind="zone", km=90.0),
        ],
    )
    world.repository.put_edited("red", made)
    return made


def _noted(world):
    doctor = world.join("red", "doctor")
    facts = [
        doctor.fact("weighed", "r1", {"moment": "before", "mass_kg": 67.4}, stage_id="s1", at_ms=START_MS),
        doctor.fact("note", "r1", {"text": "=cmd()|' /C calc'!A0"}, stage_id="s1", at_ms=START_MS + 1),
    ]
    assert {verdict["status"] for verdict in doctor.exchange(*facts)} == {"ok"}
    return doctor


@pytest.mark.parametrize("form", ["csv", "xlsx", "parquet", "json"])
def test_every_form_opens_and_holds_what_was_noted(world, form):
    doctor = _noted(world)

    answer = doctor.get(f"/api/export/{'all' if form in ('xlsx', 'json') else 'facts'}", form=form, purpose="a test")

    assert answer.status_code == 200
    assert f".{form}" in answer.headers["content-disposition"]
    if form == "csv":
        rows = list(csv.DictReader(io.StringIO(answer.content.decode())))
        assert [row["kind"] for row in rows] == ["weighed", "note"]
        assert json.loads(rows[0]["body"])["mass_kg"] == 67.4
    elif form == "parquet":
        table = pq.read_table(io.BytesIO(answer.content)).to_pydict()
        assert (table["kind"], table["stage"], table["rider"]) == (["weighed", "note"], [1, 1], ["r1", "r1"])
    elif form == "xlsx":
        with zipfile.ZipFile(io.BytesIO(answer.content)) as book:
            sheets = [book.read(name).decode() for name in book.namelist() if "worksheets/" in name]
            assert len(sheets) == 3
            assert not any("<f>" in sheet for sheet in sheets)
    else:
        assert answer.json()["purpose"] == "a test"


@pytest.mark.parametrize(("role", "status"), [
    ("soigneur", 403), ("car", 403), ("coach", 403), ("physiologist", 200), ("doctor", 200), ("admin", 200),
])
def test_only_who_may_see_bodies_takes_them_out(world, role, status):
    assert world.join("red", role).get("/api/export/settled", form="csv").status_code == status


def test_a_rider_is_told_in_the_ledger_who_took_his_rows_and_what_for(world):
    doctor = _noted(world)
    doctor.get("/api/export/facts", form="parquet", purpose="evening review")

    lines = world.join("red", "rider", "r1").get("/api/me/ledger").json()

    assert ("exported", "facts parquet: evening review", "doctor of red") in {
        (one["act"], one["what"], one["by_name"]) for one in lines}


@pytest.mark.parametrize(("path", "form", "field"), [
    ("/api/export/settled", "pdf", "form"), ("/api/export/nothing", "csv", "table"),
    ("/api/export/all", "csv", "table"),
])
def test_what_cannot_be_written_is_refused_by_name(world, path, form, field):
    answer = world.join("red", "admin").get(path, form=form)

    assert (answer.status_code, answer.json()["field"]) == (422, field)


def test_an_import_is_read_and_nothing_of_it_is_stored(world):
    physiologist = world.join("red", "physiologist")
    head = world.repository.head("red")

    told = physiologist.post("/api/import/weigh-ins", content=b"stage;number;moment;mass_kg\n1;1;before;67,4\n").json()

    assert told["rows"][0]["body"]["mass_kg"] == 67.4
    assert world.repository.head("red") == head


@pytest.mark.parametrize(("what", "table", "field"), [
    ("weigh-ins", b"stage,number,moment,mass_kg\n1,1,before,6740\n", "mass_kg"),
    ("weigh-ins", b"stage,number,moment\n1,1,before\n", "mass_kg"),
    ("roster", b"number,name,mass_kg,height_m,age_years,sex\n", "rows"),
    ("recipes", b"a,b\n1,2\n", "what"),
    ("roster", b"\xff\xfe\x00", "body"),
])
def test_a_table_that_cannot_be_names_the_field_and_the_limit(world, what, table, field):
    answer = world.join("red", "physiologist").post(f"/api/import/{what}", content=table)

    assert answer.status_code in (400, 422)
    assert answer.json()["field"] == field
    assert answer.json()["limit"]


@pytest.mark.parametrize("role", ["soigneur", "car", "coach", "doctor"])
def test_only_who_plans_brings_tables_in(world, role):
    assert world.join("red", role).post("/api/import/roster", content=b"x").status_code == 403


def test_the_day_s_rules_are_told_with_the_jurys_word_beside_them(world, stage):
    coach = world.join("red", "coach")
    by_date = coach.get("/api/stages/s1/rules").json()
    world.repository.put_edited("red", Stage(**{
        **{name: getattr(stage, name) for name in stage.__struct_fields__}, "version": 2, "feed_opens_km": 10.0,
    }))

    by_jury = coach.get("/api/stages/s1/rules").json()

    assert by_date["outside"] == ["early"]
    assert by_date["opens_km"] == by_date["by_date_opens_km"] == 30.0
    assert (by_jury["opens_km"], by_jury["by_date_opens_km"], by_jury["outside"]) == (10.0, 30.0, [])
    assert coach.get("/api/stages/nowhere/rules").status_code == 404


def test_a_time_trial_has_no_feed_outside(stage):
    fields = {name: getattr(stage, name) for name in stage.__struct_fields__}

    assert rules_told(Stage(**{**fields, "kind": "time_trial"})).outside == []
    assert rules_told(stage).outside == ["early"]
