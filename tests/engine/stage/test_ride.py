"""Work, pauses and lost recordings of a ride, and the same ride laid on a course."""

import numpy as np
import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.stage.course import synthetic_profile
from brinebook.engine.stage.ride import RideRecords, finish_at_unix_s, ride_summary, riding_at
from brinebook.engine.stage.segments import segment_ride, segment_stage
from engine.stage.skies import NOON_S, hourly
from hypothesis import given, settings
from hypothesis import strategies as st

START_S = NOON_S


def _records(power_w, *, at_s=None, speed_m_per_s=10.0):
    seconds = np.arange(len(power_w), dtype=float) if at_s is None else np.asarray(at_s, dtype=float)
    moved = np.concatenate([[0.0], np.cumsum(np.minimum(np.diff(seconds), 5.0))]) * speed_m_per_s
    return RideRecords(at_unix_s=START_S + seconds, power_w=np.asarray(power_w, dtype=float), travelled_m=moved)


def test_records_in_any_order_are_one_ride():
    records = _records(np.arange(100.0))
    order = np.random.default_rng(3).permutation(100)
    shuffled = RideRecords(at_unix_s=records.at_unix_s[order], power_w=records.power_w[order],
                           travelled_m=records.travelled_m[order])

    assert ride_summary(shuffled).work_kj == ride_summary(records).work_kj


def test_a_record_written_twice_counts_once():
    records = _records(np.full(100, 250.0))
    doubled = RideRecords(**{
        name: np.repeat(getattr(records, name), 2) for name in ("at_unix_s", "power_w", "travelled_m")
    })

    assert ride_summary(doubled).work_kj == ride_summary(records).work_kj


def test_smart_recording_counts_each_record_for_its_time():
    every_three_s = _records(np.full(200, 240.0), at_s=3.0 * np.arange(200))

    assert ride_summary(every_three_s).work_kj == pytest.approx(240.0 * (199 * 3 + 1) / 1000.0)


def test_a_lost_recording_is_missing_power_and_not_a_pause():
    at_s = np.concatenate([np.arange(300.0), 600.0 + np.arange(300.0)])
    ridden_on = RideRecords(at_unix_s=at_s, power_w=np.full(600, 200.0), travelled_m=10.0 * at_s)
    stood = RideRecords(at_unix_s=at_s, power_w=np.full(600, 200.0),
                        travelled_m=10.0 * np.concatenate([np.arange(300.0), 299.0 + np.arange(300.0)]))

    lost, paused = ride_summary(ridden_on), ride_summary(stood)

    assert (lost.n_pauses, paused.n_pauses) == (0, 1)
    assert lost.missing_power_frac == pytest.approx(300.0 / 900.0)
    assert paused.missing_power_frac == 0.0
    assert paused.paused_h * 3600.0 == pytest.approx(300.0)
    assert lost.work_kj == paused.work_kj


def test_a_fault_of_the_meter_counts_as_missing():
    power = np.full(1000, 200.0)
    power[500] = 65_535.0

    assert ride_summary(_records(power)).work_kj == pytest.approx(199.8)


def test_only_what_lies_between_start_and_finish_counts():
    whole = _records(np.full(1200, 200.0))

    part = ride_summary(whole, from_unix_s=START_S + 300.0, to_unix_s=START_S + 899.0)

    assert part.work_kj == pytest.approx(120.0)
    assert part.start_at_unix_s == START_S + 300.0
    with pytest.raises(UnphysicalInput, match="n_records"):
        ride_summary(whole, from_unix_s=START_S + 9000.0)


def test_the_finish_is_where_the_course_was_ridden():
    assert finish_at_unix_s(_records(np.full(1200, 200.0)), from_unix_s=START_S + 100.0, length_km=5.0) == (
        START_S + 600.0)
    assert finish_at_unix_s(_records(np.full(1200, 200.0)), from_unix_s=START_S, length_km=50.0) == START_S + 1199.0


POWERS = st.lists(st.one_of(st.floats(0.0, 1500.0), st.just(float("nan"))), min_size=2, max_size=300)


@settings(max_examples=100, deadline=None)
@given(POWERS, st.lists(st.integers(1, 400), min_size=1, max_size=300))
def test_work_and_time_are_conserved_by_the_steps(powers, gaps):
    gaps_s = [gaps[i % len(gaps)] for i in range(len(powers) - 1)]
    at_s = np.concatenate([[0.0], np.cumsum(gaps_s)])
    summary = ride_summary(_records(powers, at_s=at_s))

    steps_h = np.diff(summary.along.elapsed_h, prepend=0.0)

    assert steps_h.sum() == pytest.approx(summary.elapsed_h, rel=1e-9)
    assert summary.elapsed_h * 3600.0 == pytest.approx(at_s[-1] + 1.0, rel=1e-9)
    if summary.missing_power_frac == 0.0:
        assert float(summary.along.power_w @ steps_h) * 3.6 == pytest.approx(summary.work_kj, rel=1e-9, abs=1e-9)
    assert 0.0 <= summary.missing_power_frac <= 1.0
    assert summary.work_kj >= 0.0


@settings(max_examples=50, deadline=None)
@given(st.integers(2, 298))
def test_two_halves_hold_the_work_of_the_whole(cut):
    records = _records(np.random.default_rng(cut).uniform(0.0, 500.0, 300))
    first = ride_summary(records, to_unix_s=START_S + cut - 1.0)
    second = ride_summary(records, from_unix_s=START_S + cut - 0.5)

    assert first.work_kj + second.work_kj == pytest.approx(ride_summary(records).work_kj, rel=1e-9)


def _course_and_ride(power_w=220.0, *, hours=4.0, km=160.0):
    n = round(hours * 3600)
    seconds = np.arange(n, dtype=float)
    records = RideRecords(at_unix_s=START_S + seconds, power_w=np.full(n, power_w),
                          travelled_m=1000.0 * km * seconds / (n - 1))
    return synthetic_profile("flat", length_m=160_000.0, gain_m=800.0), ride_summary(records)


def _segments(course, summary):
    return segment_ride(
        course, stage_kind="flat", race_role="domestique", mass_kg=68.0, start_at_unix_s=summary.start_at_unix_s,
        along=summary.along, weather=hourly(), break_km=(40.0, 80.0),
    )


def test_a_ride_laid_on_the_course_keeps_its_time_and_its_work():
    course, summary = _course_and_ride()

    table = _segments(course, summary)

    assert table.elapsed_h[-1] == pytest.approx(summary.elapsed_h, rel=1e-9)
    assert table.end_km[-1] == pytest.approx(160.0)
    assert float(table.power_w @ table.duration_h) * 3.6 == pytest.approx(summary.work_kj, rel=1e-6)
    assert table.violations == ()
    assert {40.0, 80.0} <= set(np.round(table.end_km, 9))


def test_a_pause_stands_at_its_kilometre():
    at_s = np.concatenate([np.arange(7200.0), 7200.0 + 1800.0 + np.arange(7200.0)])
    moved_m = np.concatenate([10.0 * np.arange(7200.0), 72_000.0 + 10.0 * np.arange(7200.0)])
    moved_m[7200] = moved_m[7199]
    summary = ride_summary(RideRecords(at_unix_s=START_S + at_s, power_w=np.full(14_400, 200.0), travelled_m=moved_m))
    distance_m = np.linspace(0.0, 144_000.0, 2881)

    duration_s, power_w, _ = riding_at(summary.along, distance_m=distance_m)

    assert duration_s.min() > 0.0
    assert duration_s.sum() == pytest.approx(summary.elapsed_h * 3600.0)
    at_the_pause = int(np.argmax(duration_s))
    assert distance_m[at_the_pause] == pytest.approx(72_000.0, abs=1500.0)
    assert float(power_w @ duration_s) / 1000.0 == pytest.approx(summary.work_kj, rel=1e-3)


def test_where_the_file_has_no_power_the_modelled_one_stands():
    course, _ = _course_and_ride()
    n = 4 * 3600
    silent = ride_summary(RideRecords(
        at_unix_s=START_S + np.arange(n), power_w=np.full(n, np.nan), travelled_m=160_000.0 * np.arange(n) / (n - 1)))

    ridden = _segments(course, silent)
    planned = segment_stage(
        course, stage_kind="flat", race_role="domestique", mass_kg=68.0, start_at_unix_s=START_S,
        scheduled_duration_h=None, weather=hourly())

    assert np.isfinite(ridden.power_w).all()
    mean = [float(table.power_w @ table.duration_h / table.duration_h.sum()) for table in (ridden, planned)]
    assert mean[0] == pytest.approx(mean[1], rel=0.08)


def test_another_distance_than_the_course_s_is_stretched_and_said():
    course, summary = _course_and_ride(km=150.0)

    table = _segments(course, summary)

    assert table.end_km[-1] == pytest.approx(160.0)
    assert [one.quantity for one in table.violations] == ["stretch_frac"]


def test_a_ride_that_went_nowhere_cannot_be_laid_on_a_course():
    course, _ = _course_and_ride()
    seconds = np.arange(100.0)
    still = ride_summary(RideRecords(at_unix_s=seconds, power_w=seconds, travelled_m=0.0 * seconds))

    with pytest.raises(UnphysicalInput, match="length_km"):
        riding_at(still.along, distance_m=course.distance_m)
