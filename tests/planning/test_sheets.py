"""Every stored plan carries its bottle sheet, and a sheet tells nothing of the body."""

import json

import pytest
from brinebook.planning.recompute import Changed, recompute
from brinebook.planning.sheets import with_cut_ids
from planning.fakes import TEAM, team


@pytest.fixture(scope="module")
def stored():
    repository, _ = team(n_stages=2, n_riders=1)
    recompute(repository, TEAM, Changed(subject_ids=frozenset({"r1"}), edited_types=frozenset({"stage"})))
    return repository.heads


def test_every_plan_has_its_sheet_with_the_same_steps(stored):
    plans = {id_: json.loads(bytes(one.body)) for id_, one in stored.items() if one.type == "stage_plan"}

    assert plans
    for id_, plan in plans.items():
        sheet = json.loads(bytes(stored[id_.replace("stage_plan", "bottle_sheet")].body))
        assert sheet["steps"] == plan["steps"]
        assert sheet["status"] == plan["status"]


def test_a_sheet_tells_nothing_of_the_body(stored):
    sheets = [bytes(one.body).decode() for one in stored.values() if one.type == "bottle_sheet"]

    assert sheets
    for text in sheets:
        for word in ("sweat", "sodium", "deficit", "factor", "plasma", "lane", "profile", "mass"):
            assert word not in text


def test_a_sheet_goes_with_its_plan():
    assert with_cut_ids(["stage_plan:r1:s1", "profile:r1"]) == [
        "stage_plan:r1:s1", "profile:r1", "bottle_sheet:r1:s1", "plan_summary:r1:s1",
    ]
    assert with_cut_ids(["stage_forecast:r1:s1"]) == ["stage_forecast:r1:s1", "forecast_summary:r1:s1"]
