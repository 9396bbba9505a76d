"""A ride's file reaches the server, is read, and becomes a fact like any other."""

import pytest
from brinebook.records.edited import CoursePoint, Stage
from support.ride_files import fit_file, tcx_file

START_S = 1_783_000_000
HOURS = 0.5


@pytest.fixture(autouse=True)
def stage(world):
    made = Stage(
        id="s1", version=1, number=1, day_index=1, name="Stage 1", kind="flat", start_at_ms=1000 * START_S,
        time_zone="Europe/Paris",
        course=[CoursePoint(0.0, 100.0, 44.0, 5.0), CoursePoint(18.0, 100.0, 44.16, 5.0)],
    )
    world.repository.put_edited("red", made)
    return made


def _rows(power=220):
    return [(START_S + i, power, 10.0 * i, 44.0, 5.0, 100.0) for i in range(round(3600 * HOURS))]


def _post(phone, data, path="/api/stages/s1/rides/r1"):
    return phone.post(path, content=data)


@pytest.mark.parametrize("maker", [fit_file, tcx_file])
def test_a_file_becomes_a_fact_that_reaches_those_who_may_see_it(world, maker):
    rider = world.join("red", "rider", "r1")

    answer = _post(rider, maker(_rows()))

    assert answer.status_code == 200, answer.text
    told = answer.json()
    assert told["ridden"]["mean_power_w"] == pytest.approx(220.0)
    for role, sees in (("physiologist", True), ("soigneur", False), ("coach", False)):
        phone = world.join("red", role)
        phone.exchange()
        assert (told["fact_id"] in phone.events) == sees
    fact = world.join("red", "doctor")
    fact.exchange()
    event = fact.events[told["fact_id"]]
    assert (event["kind"], event["subject_id"], event["stage_id"], event["by"]) == (
        "ridden", "r1", "s1", rider.member["id"])
    assert event["body"]["work_kj"] == pytest.approx(220 * 1.8, rel=1e-3)


def test_a_preview_keeps_nothing(world):
    physiologist = world.join("red", "physiologist")

    told = _post(physiologist, fit_file(_rows(power=None)), "/api/stages/s1/rides/r1/preview").json()

    assert told["fact_id"] == ""
    assert [flag["quantity"] for flag in told["flags"]] == ["missing_power_frac"]
    assert world.repository.head("red") == 0


def test_the_two_ends_of_the_race_can_be_given(world):
    physiologist = world.join("red", "physiologist")
    start_ms = 1000 * START_S

    path = f"/api/stages/s1/rides/r1?from_ms={start_ms + 60_000}&to_ms={start_ms + 660_000}"
    told = _post(physiologist, fit_file(_rows()), path).json()

    assert told["ridden"]["duration_h"] == pytest.approx(600 / 3600, rel=0.01)


@pytest.mark.parametrize(("role", "rider_id", "status"), [
    ("soigneur", "r1", 403), ("car", "r1", 403), ("coach", "r1", 403), ("physiologist", "r1", 200),
    ("doctor", "r2", 200),
])
def test_only_who_may_state_it_may_read_a_file_in(world, role, rider_id, status):
    assert _post(world.join("red", role), fit_file(_rows()), f"/api/stages/s1/rides/{rider_id}").status_code == status


def test_a_rider_reads_in_his_own_file_only(world):
    rider = world.join("red", "rider", "r1")

    assert _post(rider, fit_file(_rows()), "/api/stages/s1/rides/r2").json()["code"] == "not_yours"


def test_a_bad_file_is_refused_with_field_value_and_limit_and_changes_nothing(world):
    answer = _post(world.join("red", "physiologist"), fit_file(_rows())[:-9])

    assert (answer.status_code, answer.json()["code"], answer.json()["field"]) == (422, "bad_file", "file")
    assert answer.json()["limit"]
    assert world.repository.head("red") == 0


def test_a_file_from_another_day_says_so(world):
    answer = _post(world.join("red", "physiologist"), fit_file([(at - 86_400, *rest) for at, *rest in _rows()]))

    assert (answer.status_code, answer.json()["field"]) == (422, "n_records")


def test_an_unknown_stage_or_rider_is_not_found(world):
    physiologist = world.join("red", "physiologist")

    assert _post(physiologist, fit_file(_rows()), "/api/stages/s9/rides/r1").status_code == 404
    assert _post(physiologist, fit_file(_rows()), "/api/stages/s1/rides/nobody").json()["code"] == "bad_record"
