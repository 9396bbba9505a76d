"""A forecast table is read, or refused with field, value, limit and line."""

import pytest
from brinebook.files.errors import FileProblem
from brinebook.files.forecast_table import read_forecast
from hypothesis import example, given, settings
from hypothesis import strategies as st

HEADING = "time,point,km,elev_m,temp_c,rh_pct,wind_ms,wind_from_deg,cloud_pct,ghi_wm2"
GOOD = "2026-07-14T12:00:00+02:00,start,0,200,30,40,3,180,25,850"


def _read(*lines, heading=HEADING, time_zone=None, finish_km=None):
    return read_forecast("\n".join([heading, *lines]), time_zone=time_zone, finish_km=finish_km)


def test_a_row_is_read_in_our_units():
    row = _read(GOOD)[0]

    assert row.at_ms == 1_784_023_200_000
    assert (row.air_temperature_c, row.relative_humidity_frac, row.cloud_frac) == (30.0, 0.4, 0.25)
    assert (row.wind_m_per_s, row.wind_from_deg, row.solar_w_per_m2, row.elevation_m) == (3.0, 180.0, 850.0, 200.0)


def test_a_time_without_offset_is_read_in_the_zone_of_the_stage():
    naive = GOOD.replace("+02:00", "")

    assert _read(naive, time_zone="Europe/Paris") == _read(GOOD)


def test_a_time_without_offset_or_zone_is_refused():
    with pytest.raises(FileProblem) as caught:
        _read(GOOD.replace("+02:00", ""))

    assert (caught.value.field, caught.value.limit) == ("time", "ISO 8601 with offset")
    assert caught.value.line == 2


def test_zulu_time_is_an_offset():
    assert _read(GOOD.replace("12:00:00+02:00", "10:00:00Z"))[0].at_ms == 1_784_023_200_000


def test_dew_point_stands_in_for_humidity():
    heading = HEADING.replace("rh_pct", "dewpoint_c")

    row = _read(GOOD.replace(",30,40,", ",30,14.94,"), heading=heading)[0]

    assert row.relative_humidity_frac == pytest.approx(0.40, abs=0.003)


def test_wind_in_kilometres_per_hour_is_converted():
    row = _read(GOOD.replace(",3,180", ",36,180") + ",km/h", heading=HEADING + ",wind_unit")[0]

    assert row.wind_m_per_s == pytest.approx(10.0)


def test_semicolons_come_with_decimal_commas():
    row = _read(GOOD.replace(",", ";").replace(";30;", ";30,5;"), heading=HEADING.replace(",", ";"))[0]

    assert row.air_temperature_c == 30.5


def test_a_finish_without_kilometre_stands_at_the_end_of_the_course():
    finish = GOOD.replace("start,0,", "finish,,")

    rows = _read(GOOD, finish, finish_km=180.5)

    assert [row.km for row in rows] == [0.0, 180.5]


def test_no_irradiance_stays_none():
    assert _read(GOOD.removesuffix("850"))[0].solar_w_per_m2 is None


@pytest.mark.parametrize(
    ("old", "new", "field"),
    [
        ("2026-07-14T12:00:00+02:00", "noon", "time"),
        ("2026-07-14T12:00:00+02:00", "", "time"),
        (",30,40,", ",hot,40,", "temp_c"),
        (",30,40,", ",70,40,", "temp_c"),
        (",30,40,", ",nan,40,", "temp_c"),
        (",30,40,", ",,40,", "temp_c"),
        (",30,40,", ",30,0,", "rh_pct"),
        (",30,40,", ",30,101,", "rh_pct"),
        (",30,40,", ",30,,", "rh_pct"),
        (",3,180", ",36,180", "wind_ms"),
        (",3,180", ",-1,180", "wind_ms"),
        (",180,25", ",361,25", "wind_from_deg"),
        (",25,850", ",250,850", "cloud_pct"),
        (",25,850", ",25,2000", "ghi_wm2"),
        ("start,0,", "col,,", "km"),
        ("start,0,", "finish,,", "km"),
        ("start,0,", "start,-3,", "km"),
    ],
)
def test_a_wrong_cell_is_refused_by_its_column_and_line(old, new, field):
    with pytest.raises(FileProblem) as caught:
        _read(GOOD.replace(old, new))

    assert (caught.value.field, caught.value.line) == (field, 2)
    assert caught.value.limit


@pytest.mark.parametrize("column", ["time", "temp_c", "rh_pct", "wind_ms", "cloud_pct"])
def test_a_missing_column_is_named(column):
    with pytest.raises(FileProblem) as caught:
        _read(GOOD, heading=HEADING.replace(column, "other"))

    assert caught.value.field == column


def test_a_dew_point_above_the_air_is_refused():
    with pytest.raises(FileProblem) as caught:
        _read(GOOD.replace(",30,40,", ",30,31,"), heading=HEADING.replace("rh_pct", "dewpoint_c"))

    assert caught.value.field == "dewpoint_c"


def test_a_gap_of_four_hours_is_refused_and_three_are_not():
    assert len(_read(GOOD, GOOD.replace("T12", "T15"))) == 2
    with pytest.raises(FileProblem) as caught:
        _read(GOOD, GOOD.replace("T12", "T16"))

    assert caught.value.field == "time"


def test_the_same_hour_twice_is_refused():
    with pytest.raises(FileProblem) as caught:
        _read(GOOD, GOOD)

    assert caught.value.field == "time"


@pytest.mark.parametrize("text", ["", HEADING, HEADING + "\n\n"])
def test_an_empty_table_is_refused(text):
    with pytest.raises(FileProblem):
        read_forecast(text, time_zone=None)


def test_an_unknown_zone_is_refused():
    with pytest.raises(FileProblem) as caught:
        _read(GOOD, time_zone="Mars/Olympus")

    assert caught.value.field == "time_zone"


def _answer(text):
    try:
        return read_forecast(text, time_zone="Europe/Rome")
    except FileProblem as problem:
        return problem.field


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=200))
@example("\r")
@example("9999-12-31T23:59")
def test_any_text_is_either_read_or_refused(text):
    bodies = (text, f"{HEADING}\n{text}", GOOD.replace("30,40", text), GOOD.replace("2026-07-14T12:00:00+02:00", text))

    for body in bodies:
        assert _answer(f"{HEADING}\n{body}")
