"""A recorded ride is read from FIT, TCX or GPX, or refused with field, value and limit."""

import math
from contextlib import suppress

import numpy as np
import pytest
from brinebook.engine.stage.ride import ride_summary
from brinebook.files.errors import FileProblem
from brinebook.files.ride import read_ride
from hypothesis import given, settings
from hypothesis import strategies as st
from support.ride_files import fit_file, gpx_ride, tcx_file

START_S = 1_783_000_000
DEG_PER_M = 1 / 111_194.93


def _rows(n=600, *, power=lambda i: 200 + i % 7, step_m=10.0):
    """Ride north at an even speed, one record a second."""
    return [(START_S + i, power(i), step_m * i, 44.0 + step_m * i * DEG_PER_M, 5.0, 100.0) for i in range(n)]


def _with_a_pause(pause_s=900):
    rows = _rows()
    return rows[:300] + [(at + pause_s, *rest) for at, *rest in rows[300:]]


MAKERS = {"fit": fit_file, "tcx": tcx_file, "gpx": gpx_ride}


@pytest.mark.parametrize("kind", sorted(MAKERS))
def test_the_format_is_known_by_its_content_and_all_three_say_the_same(kind):
    file = read_ride(MAKERS[kind](_rows()))

    summary = ride_summary(file.records)

    assert (file.kind, file.has_power) == (kind, True)
    assert summary.work_kj == pytest.approx(sum(200 + i % 7 for i in range(600)) / 1000.0, rel=1e-9)
    assert summary.length_km == pytest.approx(5.99, rel=1e-4)
    assert summary.start_at_unix_s == START_S


@pytest.mark.parametrize("kind", sorted(MAKERS))
def test_a_pause_adds_time_and_no_work(kind):
    rows = _with_a_pause()
    summary = ride_summary(read_ride(MAKERS[kind](rows)).records)

    work_kj = sum(power for _, power, *_ in rows) / 1000.0
    naive_kj = sum(rows[i][1] * (rows[i + 1][0] - rows[i][0]) for i in range(len(rows) - 1)) / 1000.0
    assert naive_kj > 2.0 * work_kj
    assert summary.work_kj == pytest.approx(work_kj)
    assert summary.n_pauses == 1
    assert summary.paused_h * 3600.0 == pytest.approx(900.0)


def test_the_session_s_mean_power_is_never_read():
    """Many devices leave zeros out of it; this one says 400 W for a ride of 100 W."""
    rows = _rows(power=lambda i: 200 if i % 2 else 0)

    summary = ride_summary(read_ride(fit_file(rows, total_work_j=60_000, avg_power_w=400)).records)

    assert summary.mean_power_w == pytest.approx(100.0)


def test_the_device_s_own_work_is_compared():
    rows = _rows(power=lambda _: 200)
    honest, other = (read_ride(fit_file(rows, total_work_j=work)) for work in (120_000, 125_000))

    assert ride_summary(honest.records, device_work_kj=honest.device_work_kj).violations == ()
    said = ride_summary(other.records, device_work_kj=other.device_work_kj).violations
    assert [one.quantity for one in said] == ["work_ratio_frac"]
    assert said[0].value == pytest.approx(0.96)


def test_a_missing_power_is_missing_and_not_zero():
    rows = _rows(power=lambda i: None if i < 60 else 200)
    file = read_ride(fit_file(rows))

    summary = ride_summary(file.records)

    assert math.isnan(file.records.power_w[0])
    assert summary.missing_power_frac == pytest.approx(0.1)
    assert [one.quantity for one in summary.violations] == ["missing_power_frac"]
    assert summary.mean_power_w == pytest.approx(200.0)
    assert np.nanmax(summary.along.power_w) == pytest.approx(200.0)


def test_a_ride_without_a_power_meter_is_read_for_its_time():
    file = read_ride(tcx_file(_rows(power=lambda _: None)))

    summary = ride_summary(file.records)

    assert not file.has_power
    assert summary.missing_power_frac == 1.0
    assert np.isnan(summary.along.power_w).all()
    assert summary.length_km == pytest.approx(5.99)


def test_distance_is_the_way_between_positions_where_the_device_wrote_none():
    rows = [(at, power, None, north, east, height) for at, power, _, north, east, height in _rows()]

    assert ride_summary(read_ride(fit_file(rows)).records).length_km == pytest.approx(5.99, rel=1e-4)


@pytest.mark.parametrize(("data", "field"), [
    (b"", "file"),
    (b"power,200\n", "file"),
    (fit_file(_rows())[:-40], "file"),
    (fit_file(_rows())[:200] + b"\x00" + fit_file(_rows())[201:], "file"),
    (fit_file([]), "records"),
    (tcx_file(_rows(1)), "records"),
    (tcx_file(_rows())[:-30], "file"),
    (tcx_file(_rows()).replace(b"<n3:Watts>200<", b"<n3:Watts>many<"), "Watts"),
    (tcx_file(_rows()).replace(b"2026", b"the year 2026"), "Time"),
    (b'<!DOCTYPE x [<!ENTITY a "aaaa">]>' + tcx_file(_rows()), "file"),
    (gpx_ride(_rows()).replace(b'lat="44.0"', b'lat="104.0"'), "position"),
    (fit_file([(at, power, None, None, None, None) for at, power, *_ in _rows()]), "distance"),
], ids=["empty", "a table", "cut short", "one byte wrong", "no record", "one record", "xml cut short", "watts in words",
        "no iso time", "entities", "off the globe", "nowhere"])
def test_what_is_no_ride_is_refused_by_name(data, field):
    with pytest.raises(FileProblem) as refused:
        read_ride(data)

    assert refused.value.field.lower() == field.lower()
    assert refused.value.limit


WHOLE = {kind: maker(_rows(40)) for kind, maker in MAKERS.items()}


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=300), st.integers(0, 4000), st.sampled_from(sorted(MAKERS)))
def test_no_damage_gets_past_the_reader_as_anything_but_a_file_problem(noise, place, kind):
    whole = WHOLE[kind]
    data = whole[:place] + noise + whole[place + len(noise):]

    with suppress(FileProblem):
        assert read_ride(data).records.at_unix_s.size >= 2
