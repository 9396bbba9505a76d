"""A course file is read, or refused with field, value and limit."""

import pytest
from brinebook.files.errors import FileProblem
from brinebook.files.gpx import LIMIT_BYTES, read_gpx
from hypothesis import given, settings
from hypothesis import strategies as st

HEAD = '<?xml version="1.0"?><gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">'


def _track(*points):
    return f"{HEAD}<trk><trkseg>{''.join(points)}</trkseg></trk></gpx>".encode()


def _point(lat, lon, ele=None):
    height = "" if ele is None else f"<ele>{ele}</ele>"
    return f'<trkpt lat="{lat}" lon="{lon}">{height}</trkpt>'


def test_distance_counts_from_the_first_point_along_the_track():
    course = read_gpx(_track(_point(44.0, 5.0, 100), _point(44.1, 5.0, 200)))

    assert course[0].distance_km == 0.0
    assert course[-1].distance_km == pytest.approx(11.119, abs=0.01)
    assert [point.elevation_m for point in course] == [100.0, 200.0]


def test_a_route_serves_where_there_is_no_track():
    points = "".join(_point(44 + i / 100, 5, i).replace("trkpt", "rtept") for i in range(2))

    assert len(read_gpx(f"{HEAD}<rte>{points}</rte></gpx>".encode())) == 2


def test_segments_are_joined_in_order():
    body = f"<trkseg>{_point(44.0, 5.0, 1)}</trkseg><trkseg>{_point(44.01, 5.0, 2)}{_point(44.02, 5.0, 3)}</trkseg>"
    course = read_gpx(f"{HEAD}<trk>{body}</trk></gpx>".encode())

    assert [point.elevation_m for point in course] == [1.0, 2.0, 3.0]


def test_a_missing_height_is_drawn_between_its_neighbours():
    course = read_gpx(_track(_point(44.0, 5.0, 100), _point(44.01, 5.0), _point(44.02, 5.0, 200)))

    assert course[1].elevation_m == 150.0


def test_thinning_keeps_length_and_ends():
    points = [_point(44.0 + i * 1e-5, 5.0, 100 + i * 0.1) for i in range(1001)]

    course = read_gpx(_track(*points))

    assert len(course) < 300
    assert course[-1].distance_km == pytest.approx(1.112, abs=0.002)
    assert course[-1].elevation_m == 200.0


def test_doubled_points_are_dropped():
    same = _point(44.0, 5.0, 100)

    assert len(read_gpx(_track(same, same, _point(44.01, 5.0, 100)))) == 2


@pytest.mark.parametrize(
    ("data", "field"),
    [
        (b"", "file"),
        (b"<gpx><trk>", "file"),
        (b"hello", "file"),
        (b"\xff\xfe\x00", "file"),
        (b" " * (LIMIT_BYTES + 1), "file"),
        (b"<html/>", "trkpt"),
        (_track(), "trkpt"),
        (_track(_point(44, 5, 1)), "trkpt"),
        (_track(_point("abc", 5, 1), _point(44.1, 5, 1)), "lat"),
        (_track(_point(44, "east", 1), _point(44.1, 5, 1)), "lon"),
        (_track(_point(44, 5, "high"), _point(44.1, 5, 1)), "ele"),
        (_track('<trkpt lat="44"><ele>1</ele></trkpt>', _point(44.1, 5, 1)), "lon"),
        (_track(_point(95, 5, 1), _point(44.1, 5, 1)), "lat"),
        (_track(_point("nan", 5, 1), _point(44.1, 5, 1)), "lat"),
        (_track(_point(44, 181, 1), _point(44.1, 5, 1)), "lon"),
        (_track(_point(44, 5, "1e400"), _point(44.1, 5, 1)), "ele"),
        (_track(_point(44, 5, 9000), _point(44.1, 5, 1)), "ele"),
        (_track(_point(44, 5), _point(44.1, 5)), "ele"),
        (_track(_point(44, 5, 1), _point(44, 5, 2)), "distance_km"),
        (_track(_point(44, 5, 1), _point(54, 5, 2)), "distance_km"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_bad_file_is_refused_with_field_value_and_limit(data, field):
    with pytest.raises(FileProblem) as caught:
        read_gpx(data)

    assert caught.value.field == field
    assert caught.value.value
    assert caught.value.limit


def test_an_entity_bomb_does_not_go_off():
    entities = f'<!ENTITY a "ha"><!ENTITY b "{"&a;" * 50}"><!ENTITY c "{"&b;" * 50}">'
    bomb = f"<!DOCTYPE x [{entities}]><gpx>&c;</gpx>"

    with pytest.raises(FileProblem):
        read_gpx(bomb.encode())


def _answer(data):
    try:
        return read_gpx(data)
    except FileProblem as problem:
        return problem.field


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes_are_either_read_or_refused(data):
    assert _answer(data)


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=60))
def test_any_words_for_numbers_are_either_read_or_refused(text):
    assert _answer(_track(_point(text, 5, 1), _point(44, 5, text)))
