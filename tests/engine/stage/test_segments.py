"""A stage in segments: cuts where asked, the schedule kept, and every oddity said."""

import time

import numpy as np
import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.stage.course import synthetic_profile
from brinebook.engine.stage.segments import SegmentTable, segment_stage
from engine.stage.skies import NOON_S, hourly, straight


def _table(course=None, **changes):
    given = {
        "stage_kind": "hilly", "race_role": "domestique", "mass_kg": 68.0, "start_at_unix_s": NOON_S,
        "scheduled_duration_h": None, "weather": hourly(),
    } | changes
    return segment_stage(synthetic_profile("hilly", length_m=120e3, gain_m=1800) if course is None else course, **given)


def _is_named(table, quantity):
    return quantity in {violation.quantity for violation in table.violations}


def test_segments_tile_the_stage_and_last_five_minutes_at_most():
    table = _table()

    assert table.start_km[0] == 0.0
    assert table.end_km[-1] == pytest.approx(120.0)
    assert table.start_km[1:] == pytest.approx(table.end_km[:-1])
    assert table.duration_h.max() <= 5.0 / 60.0 + 1e-9
    assert table.elapsed_h == pytest.approx(np.cumsum(table.duration_h))


def test_every_array_has_one_shape_and_finite_numbers():
    table = _table()

    for name, column in vars(table).items():
        if isinstance(column, np.ndarray):
            assert column.shape == table.start_km.shape, name
            assert np.isfinite(column).all(), name


def test_each_feed_point_ends_a_segment():
    table = _table(break_km=(33.3, 71.0, 90.0))

    for km in (33.3, 71.0, 90.0):
        assert np.abs(table.end_km - km).min() < 1e-9


def test_breaks_off_the_course_or_on_each_other_are_no_cuts():
    table = _table(break_km=(-3.0, 0.0, 50.0, 50.0, 120.0, 500.0))

    assert (table.duration_h > 0.0).all()
    assert table.end_km[-1] == pytest.approx(120.0)


def test_the_stage_lasts_as_scheduled():
    table = _table(scheduled_duration_h=3.1)

    assert table.elapsed_h[-1] == pytest.approx(3.1)
    assert table.scale_factor != 1.0


def test_a_schedule_far_from_physics_is_flagged():
    assert _is_named(_table(scheduled_duration_h=5.0), "scale_factor")
    assert not _is_named(_table(), "scale_factor")


def test_a_stage_beyond_the_forecast_is_flagged():
    assert _is_named(_table(start_at_unix_s=NOON_S + 9 * 3600), "uncovered_h")


def test_sunlight_above_clear_sky_is_capped_and_flagged():
    table = _table(weather=hourly(solar_w_per_m2=1390.0))

    assert _is_named(table, "solar_ratio")
    assert table.solar_w_per_m2.max() < 1250.0


def test_given_sunlight_is_preferred_to_the_clear_sky():
    dull, bright = _table(weather=hourly(solar_w_per_m2=300.0)), _table()

    assert dull.solar_w_per_m2.max() <= 300.0
    assert (dull.radiant_temperature_c < bright.radiant_temperature_c).all()


def test_power_clouds_and_night_leave_radiant_temperature_above_nothing_odd():
    night = _table(start_at_unix_s=NOON_S + 11 * 3600)

    assert night.solar_w_per_m2.max() == 0.0
    assert night.radiant_temperature_c == pytest.approx(night.air_temperature_c, abs=0.5)


@pytest.mark.parametrize(("role", "kind", "share"), [
    ("domestique", "flat", 0.6), ("breakaway", "flat", 0.9), ("leader", "time_trial", 1.0), ("leader", "rest", 0.9),
])
def test_in_still_air_the_air_passes_at_the_share_of_road_speed(role, kind, share):
    table = _table(straight(20e3), race_role=role, stage_kind=kind)

    assert table.air_speed_m_per_s == pytest.approx(share * table.speed_m_per_s)


def test_a_bunch_shelters_less_on_a_climb():
    table = _table(straight(8e3, gradient_frac=0.07))

    assert table.air_speed_m_per_s[1:-1] == pytest.approx(0.9 * table.speed_m_per_s[1:-1])


def test_a_headwind_slows_and_blows():
    calm, windy = _table(straight(40e3)), _table(straight(40e3), weather=hourly(wind_m_per_s=5.0))

    assert windy.elapsed_h[-1] > calm.elapsed_h[-1]
    assert windy.air_speed_m_per_s.mean() > calm.air_speed_m_per_s.mean()


def test_kilometres_count_from_the_real_start():
    table = _table(straight(50e3), km0_m=8_000.0)

    assert (table.start_km[0], table.end_km[-1]) == (0.0, pytest.approx(42.0))


def test_the_top_of_a_climb_is_cooler():
    table = _table(straight(15e3, gradient_frac=0.08))

    assert table.air_temperature_c[-1] < table.air_temperature_c[0] - 5.0


def test_a_two_hundred_kilometre_stage_takes_less_than_a_tenth_of_a_second():
    course, weather = synthetic_profile("mountain", length_m=200e3, gain_m=4500), hourly()
    spent_s = []
    for _ in range(5):
        begun_s = time.perf_counter()
        _table(course, stage_kind="mountain", weather=weather, break_km=(40.0, 80.0, 120.0))
        spent_s.append(time.perf_counter() - begun_s)

    assert min(spent_s) < 0.1


@pytest.mark.parametrize("changes", [{"mass_kg": 0.0}, {"mass_kg": np.nan}, {"scheduled_duration_h": 0.0},
                                     {"km0_m": 900e3}, {"break_km": (np.nan,)}, {"start_at_unix_s": np.nan}])
def test_the_impossible_raises(changes):
    with pytest.raises(UnphysicalInput):
        _table(**changes)


def test_the_table_has_defaults_for_what_is_not_an_array():
    assert SegmentTable.scale_factor == 1.0
    assert SegmentTable.violations == ()
