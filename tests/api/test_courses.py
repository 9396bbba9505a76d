"""A stage gets its road from a table or from nothing but its kind, length and climb."""

import pytest
from brinebook.records.edited import Stage


@pytest.fixture(autouse=True)
def stage(world):
    made = Stage(id="s1", version=1, number=1, day_index=1, name="Stage 1", kind="hilly", start_at_ms=1_783_000_000_000,
                 time_zone="Europe/Paris")
    world.repository.put_edited("red", made)
    return made


def test_a_table_becomes_a_course(world):
    path = "/api/stages/s1/course?latitude_deg=44&longitude_deg=5"
    answer = world.join("red", "physiologist").post(path, content=b"km,elev_m\n0,100\n80,700\n150,200\n")

    assert answer.status_code == 200, answer.text
    assert [point[0] for point in answer.json()["course"]] == [0.0, 80.0, 150.0]


def test_a_table_without_a_place_says_what_is_missing(world):
    answer = world.join("red", "physiologist").post("/api/stages/s1/course", content=b"km,elev_m\n0,100\n80,700\n")

    assert (answer.status_code, answer.json()["field"]) == (422, "lat")


def test_a_course_is_made_up_from_length_and_climb(world):
    body = {"length_km": 175.0, "gain_m": 2500.0, "latitude_deg": 44.0, "longitude_deg": 5.0}
    answer = world.join("red", "physiologist").post("/api/stages/s1/made-course", body)

    assert answer.status_code == 200, answer.text
    assert answer.json()["course"][-1][0] == pytest.approx(175.0, rel=1e-3)


@pytest.mark.parametrize(("change", "field"), [
    ({"length_km": 0.0}, "length_km"), ({"latitude_deg": 95.0}, "latitude_deg"),
])
def test_an_impossible_course_names_the_field(world, change, field):
    body = {"length_km": 175.0, "gain_m": 2500.0, "latitude_deg": 44.0, "longitude_deg": 5.0} | change
    answer = world.join("red", "physiologist").post("/api/stages/s1/made-course", body)

    assert (answer.status_code, answer.json()["field"]) == (400, field)


def test_only_planners_lay_out_a_course(world):
    body = {"length_km": 175.0, "gain_m": 2500.0, "latitude_deg": 44.0, "longitude_deg": 5.0}

    assert world.join("red", "soigneur").post("/api/stages/s1/made-course", body).status_code == 403
