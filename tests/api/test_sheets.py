"""Paper and drafts through the doorways: who gets what, and what a server without Pango says."""

import json

import pytest
from brinebook.records.derived import Basis, PrepSheet
from brinebook.records.edited import Stage
from brinebook.sheets.errors import DEBIAN_PACKAGES, PaperUnavailable
from brinebook.storage.repository import NewDocument
from msgspec import json as msgjson

STAGE = Stage(id="s1", version=1, number=1, day_index=1, name="A - B", kind="flat", start_at_ms=1_782_000_000_000,
              time_zone="Europe/Paris")
SHEET = PrepSheet(id="prep_sheet:s1", basis=Basis(engine_version="t", input_ids=[]), stage_id="s1", stage_number=1,
                  status="published", sheet_version=3, supersedes=2, plan_versions={}, qr_side_n=21, places=[],
                  mixes=[])
PREP = "/api/stages/s1/sheets/prep"


@pytest.fixture
def stocked(world):
    world.repository.put_edited("red", STAGE)
    body = msgjson.encode(SHEET)
    world.repository.put_documents("red", [NewDocument(id=SHEET.id, type="prep_sheet", subject_id="red", body=body)])
    return world


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    monkeypatch.setattr("brinebook.sheets.printing.pdf", lambda html: b"%PDF-" + html.encode())


@pytest.mark.parametrize(("role", "rider_id", "status"), [
    ("soigneur", None, 200), ("car", None, 200), ("physiologist", None, 200), ("admin", None, 200),
    ("doctor", None, 200), ("coach", None, 200), ("rider", "r1", 404),
])
def test_a_prep_sheet_is_printed_for_those_who_pack(stocked, role, rider_id, status):
    answer = stocked.join("red", role, rider_id).get(PREP, bucket_l="12.5")

    assert answer.status_code == status
    if status == 200:
        assert answer.headers["content-type"] == "application/pdf"
        assert answer.headers["cache-control"] == "no-store"
        assert b"Sheet v3" in answer.content
        assert b"supersedes v2" in answer.content


def test_another_team_s_sheet_is_as_absent_as_one_that_is_not_there(stocked):
    stranger = stocked.join("blue", "physiologist")

    assert stranger.get(PREP).json()["code"] == "nothing_to_print"
    assert stranger.get("/api/stages/none/sheets/prep").json()["code"] == "nothing_to_print"


def test_nobody_prints_without_signing_in(stocked):
    paths = (PREP, "/api/sheets/grid", PREP.replace("prep", "cards"), PREP.replace("prep", "labels"))

    assert {stocked.http.get(path).status_code for path in paths} == {401}


def test_a_server_without_pango_names_the_packages_and_works_on(stocked, monkeypatch):
    def refuse(_html):
        raise PaperUnavailable

    monkeypatch.setattr("brinebook.sheets.printing.pdf", refuse)
    phone = stocked.join("red", "soigneur")
    answer = phone.get(PREP)

    assert (answer.status_code, answer.json()["code"]) == (503, "no_paper")
    assert DEBIAN_PACKAGES in answer.json()["limit"]
    assert phone.exchange() == []


def test_a_bad_wish_names_field_and_limit(stocked):
    answer = stocked.join("red", "soigneur").get("/api/sheets/grid", stock="b5")

    assert answer.json()["field"] == "stock"
    assert "a4_3x8" in answer.json()["limit"]


def test_a_draft_label_is_read_and_kept_nowhere(stocked):
    phone = stocked.join("red", "physiologist")
    draft = {"id": "draft", "name": "?", "serving_g": 62, "serving_l": 1,
             "label": [{"nutrient": "sodium", "typed": 2000, "unit": "mg", "basis": "litre"}]}
    read = phone.post("/api/labels/read", draft).json()
    recipe = phone.post("/api/recipes/read", {"recipe": [{"supply_id": "none", "g_per_l": 3}]}).json()

    assert {question["code"] for question in read["questions"]} >= {"is_salt"}
    assert recipe["sodium_mg_per_l"] == 0
    assert stocked.repository.all_edited("red", type(STAGE)) == [STAGE]
    refused = stocked.join("red", "soigneur").post("/api/labels/read", json.loads(json.dumps(draft)))
    assert refused.status_code == 403


def test_a_powder_with_an_open_question_is_refused_and_says_which(stocked):
    phone = stocked.join("red", "physiologist")
    powder = {"id": "p", "name": "P", "serving_g": 62, "serving_l": 1, "sodium_mg_per_g": 2000 / 62,
              "label": [{"nutrient": "sodium", "typed": 2000, "unit": "mg", "basis": "litre"}]}
    refused = phone.put("/api/supplies/p", powder).json()
    kept = phone.put("/api/supplies/p", {**powder, "answered": ["0:is_salt", "0:per_100_g"]})

    assert refused["field"] == "answered"
    assert "0:is_salt" in refused["limit"]
    assert kept.status_code == 200, kept.json()
