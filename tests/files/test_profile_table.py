"""A course from a table of kilometres and heights, or made up from kind, length and climb."""

import pytest
from brinebook.engine.stage.course import ascent_m, resample_course
from brinebook.files.errors import FileProblem
from brinebook.files.profile_table import made_course, read_profile
from hypothesis import given, settings
from hypothesis import strategies as st

PLACE = {"latitude_deg": 44.0, "longitude_deg": 5.0}


def _course(points):
    rows = [(1000.0 * one.distance_km, one.elevation_m, one.latitude_deg, one.longitude_deg) for one in points]
    return resample_course(*(list(column) for column in zip(*rows, strict=True)))


def test_a_table_of_two_rows_is_a_course():
    points = read_profile("km,elev_m\n0,100\n150,900\n", **PLACE)

    assert [(point.distance_km, point.elevation_m) for point in points] == [(0.0, 100.0), (150.0, 900.0)]


def test_semicolons_with_decimal_commas_are_understood():
    assert read_profile("km;elev_m\n0,5;100\n10,5;120\n", **PLACE)[-1].distance_km == 10.0


def test_positions_of_the_table_are_kept():
    points = read_profile("km,elev_m,lat,lon\n0,1,45.1,6.2\n9,2,45.2,6.3\n", latitude_deg=None, longitude_deg=None)

    assert (points[-1].latitude_deg, points[-1].longitude_deg) == (45.2, 6.3)


def test_without_positions_the_road_turns_through_every_direction():
    rows = "\n".join(f"{km},{100 + km}" for km in range(151))
    bearings = _course(read_profile(f"km,elev_m\n{rows}", **PLACE)).bearing_deg

    assert {int(bearing // 90) for bearing in bearings} == {0, 1, 2, 3}


@pytest.mark.parametrize(("text", "field", "line"), [
    ("", "rows", None), ("km,elev_m\n0,100\n", "rows", None), ("distance,elev_m\n0,1\n1,2\n", "km", None),
    ("km,elev_m\n0,100\n10,high\n", "elev_m", 3), ("km,elev_m\n0,100\n10,9000\n", "elev_m", 3),
    ("km,elev_m\n0,100\n10,120\n8,130\n", "km", 4), ("km,elev_m\n0,100\n500,120\n", "km", 3),
    ("km,elev_m\n0,100\n10\n", "elev_m", 3),
])
def test_a_bad_table_is_refused_with_its_line(text, field, line):
    with pytest.raises(FileProblem) as refused:
        read_profile(text, **PLACE)

    assert (refused.value.field, refused.value.line) == (field, line)
    assert refused.value.limit


def test_a_table_without_a_place_asks_for_one():
    with pytest.raises(FileProblem, match="latitude"):
        read_profile("km,elev_m\n0,100\n10,120\n", latitude_deg=None, longitude_deg=None)


@pytest.mark.parametrize(("kind", "length_km", "gain_m"), [("flat", 180.0, 1100.0), ("hilly", 175.0, 2500.0),
                                                          ("mountain", 155.0, 4000.0)])
def test_a_made_course_has_the_length_and_the_climb_asked_for(kind, length_km, gain_m):
    course = _course(made_course(kind, length_km=length_km, gain_m=gain_m, **PLACE))

    assert course.distance_m[-1] / 1000.0 == pytest.approx(length_km, rel=1e-3)
    assert ascent_m(course) == pytest.approx(gain_m, rel=0.05)


def test_more_climb_than_a_road_holds_is_refused():
    with pytest.raises(FileProblem, match="gain_m"):
        made_course("mountain", length_km=10.0, gain_m=5000.0, **PLACE)


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=200))
def test_any_text_is_either_read_or_refused(text):
    for table in (text, f"km,elev_m\n{text}"):
        try:
            points = read_profile(table, **PLACE)
        except FileProblem:
            continue
        assert len(points) >= 2
