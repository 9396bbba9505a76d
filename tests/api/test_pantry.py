"""Supplies, palates and the kit: who may keep which, and what is refused."""

import pytest

SUPPLY = {"id": "mix", "name": "Race mix", "sodium_mg_per_g": 10.0, "carbohydrate_g_per_g": 0.9, "scoop_g": 30}
PALATE = {"id": "r1", "likes": ["rice"], "cannot": ["gel"]}
KIT = {"id": "kit", "buckets_l": [10, 20]}


@pytest.mark.parametrize(("role", "rider_id", "supply", "palate", "kit"), [
    ("rider", "r1", 403, 200, 403), ("rider", "r2", 403, 403, 403), ("soigneur", None, 403, 403, 200),
    ("car", None, 403, 403, 200), ("coach", None, 403, 403, 403), ("doctor", None, 403, 200, 403),
    ("physiologist", None, 200, 200, 200), ("admin", None, 200, 200, 200),
])
def test_who_may_keep_what(world, role, rider_id, supply, palate, kit):
    phone = world.join("red", role, rider_id)
    answers = [
        phone.put("/api/supplies/mix", SUPPLY), phone.put("/api/rider-palates/r1", PALATE),
        phone.put("/api/kits/kit", KIT),
    ]

    assert [answer.status_code for answer in answers] == [supply, palate, kit]


def test_a_team_has_one_kit_and_a_palate_needs_a_rider(world):
    admin = world.join("red", "admin")

    assert admin.put("/api/kits/other", {**KIT, "id": "other"}).json()["field"] == "id"
    assert admin.put("/api/rider-palates/nobody", {"id": "nobody"}).status_code == 404
    assert admin.put("/api/kits/kit", {**KIT, "nudge_right_mm": 2.5}).json()["field"] == "nudge_right_mm"


def test_goals_are_the_planners_to_weigh_and_never_nought(world):
    planner, soigneur = world.join("red", "physiologist"), world.join("red", "soigneur")
    goals = {"id": "goals", "sodium_factor": 2.0}

    off = planner.put("/api/plan-goals/goals", {**goals, "sodium_factor": 0.0})
    kept = planner.put("/api/plan-goals/goals", goals)

    assert (off.status_code, off.json()["field"]) == (400, "sodium_factor")
    assert kept.json()["sodium_factor"] == 2.0
    assert soigneur.put("/api/plan-goals/goals", kept.json()).status_code == 403
    assert planner.put("/api/plan-goals/others", {"id": "others"}).status_code == 400
