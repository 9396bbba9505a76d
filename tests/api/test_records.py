"""Edited records through the API: versions, stale edits, course and forecast files."""

import msgspec
import pytest
from brinebook.records.edited import Stage

DRINK = {"id": "standard", "name": "Standard", "short_name": "STD", "sodium_mg_per_l": 900}
STAGE = {
    "id": "s1", "number": 1, "day_index": 1, "name": "A - B", "kind": "flat", "start_at_ms": 1_782_000_000_000,
    "time_zone": "Europe/Paris",
}
POINTS = "".join(
    f'<trkpt lat="{45 + place / 1000}" lon="6.0"><ele>{100 + place}</ele></trkpt>' for place in range(50)
)
GPX = f'<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>{POINTS}</trkseg></trk></gpx>'


@pytest.fixture
def admin(world):
    return world.join("red", "admin")


def test_an_edit_raises_the_version_and_reaches_the_phones(world, admin):
    stored = admin.put("/api/drinks/standard", DRINK).json()
    rider = world.join("red", "rider", "r1")
    rider.exchange()

    assert stored["version"] == 1
    assert rider.documents["drink:standard"]["body"] == stored


@pytest.mark.parametrize("name", ["", "Europe", "../etc/passwd", "Mars/Base", "Europe/Paris\0"])
def test_a_stage_of_no_time_zone_is_refused_before_anything_is_computed_from_it(admin, name):
    answer = admin.put("/api/stages/s1", {**STAGE, "time_zone": name})

    assert (answer.status_code, answer.json()["field"], answer.json().get("value", "")) == (400, "time_zone", name)


def test_a_stale_edit_comes_back_with_the_newer_record(admin):
    first = admin.put("/api/drinks/standard", DRINK).json()
    newer = admin.put("/api/drinks/standard", {**first, "name": "Standard B"}).json()

    answer = admin.put("/api/drinks/standard", {**first, "name": "Standard C"})

    assert (answer.status_code, answer.json()["code"]) == (409, "stale_edit")
    assert answer.json()["current"] == newer


def test_an_edit_sent_twice_is_one_edit(admin):
    assert admin.put("/api/drinks/standard", DRINK).json() == admin.put("/api/drinks/standard", DRINK).json()


@pytest.mark.parametrize(
    ("change", "field"),
    [({"sodium_mg_per_l": -1}, "sodium_mg_per_l"), ({"name": ""}, "name"), ({"id": "other"}, "id"),
     ({"kind": "beer"}, "kind"), ({"bottle_l": "x"}, "bottle_l")],
)
def test_a_bad_edit_names_its_field(admin, change, field):
    answer = admin.put("/api/drinks/standard", {**DRINK, **change})

    assert (answer.status_code, answer.json()["field"]) == (400, field)
    assert answer.json()["limit"]


def test_a_body_needs_a_rider(admin):
    body = {"id": "nobody", "mass_kg": 66, "height_m": 1.8, "age_years": 25, "sex": "m"}

    assert admin.put("/api/rider-bodies/nobody", body).status_code == 404


def test_the_same_id_in_two_teams_is_two_records(world, admin):
    admin.put("/api/drinks/standard", DRINK)
    foreigner = world.join("blue", "admin")

    stored = foreigner.put("/api/drinks/standard", {**DRINK, "name": "Blue"}).json()

    assert stored["version"] == 1
    assert admin.put("/api/drinks/standard", DRINK).json()["name"] == "Standard"


def test_a_course_file_becomes_the_stages_course(world, admin):
    admin.put("/api/stages/s1", STAGE)

    answer = admin.post("/api/stages/s1/course?km0_km=1.5", content=GPX.encode())

    stored = world.repository.edited("red", Stage, "s1")
    assert (answer.status_code, stored.km0_km, len(stored.course), stored.version) == (200, 1.5, 50, 2)


def test_a_broken_course_file_is_told_what_is_wrong(admin):
    admin.put("/api/stages/s1", STAGE)

    answer = admin.post("/api/stages/s1/course", content=b"no course")

    assert (answer.status_code, answer.json()["code"]) == (422, "bad_file")
    assert answer.json()["field"]


def test_a_forecast_time_without_a_zone_is_refused(admin):
    admin.put("/api/stages/s1", STAGE)

    answer = admin.post("/api/stages/s1/forecast", content=b"time,air_temperature_c\n2026-07-01T12:00,30\n")

    assert (answer.status_code, answer.json()["code"]) == (422, "bad_file")


def test_a_forecast_must_be_text(admin):
    admin.put("/api/stages/s1", STAGE)

    assert admin.post("/api/stages/s1/forecast", content=b"\xff\xfe\x00").json()["limit"] == "text in UTF-8"


def test_an_edit_of_a_thinned_course_keeps_the_full_one(world, admin):
    course = [[place / 10, 100.0, 45.0, 6.0] for place in range(1000)]
    admin.put("/api/stages/s1", {**STAGE, "course": course})
    admin.exchange()
    thinned = admin.documents["stage:s1"]["body"]

    stored = admin.put("/api/stages/s1", {**thinned, "note": "crosswind"}).json()

    assert (len(thinned["course"]), len(stored["course"]), stored["note"]) == (300, 1000, "crosswind")
    assert msgspec.to_builtins(world.repository.edited("red", Stage, "s1"))["version"] == 2


def test_only_the_doctor_releases_sodium_and_the_doctor_changes_nothing_else(world, admin):
    doctor = world.join("red", "doctor")
    doctor.exchange()
    body = doctor.documents["rider_body:r1"]["body"]

    refused = admin.put("/api/rider-bodies/r1", {**body, "released_sodium_mg_per_h": 1400.0})
    released = doctor.put("/api/rider-bodies/r1", {**body, "released_sodium_mg_per_h": 1400.0})
    overreached = doctor.put("/api/rider-bodies/r1", {**released.json(), "mass_kg": 60.0})
    taken_back = admin.put("/api/rider-bodies/r1", {**released.json(), "released_sodium_mg_per_h": None})

    assert (refused.status_code, released.status_code, overreached.status_code) == (403, 200, 403)
    assert released.json()["released_sodium_mg_per_h"] == 1400.0
    assert taken_back.status_code == 200
