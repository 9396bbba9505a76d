"""What must hold for any road, any rider and any sky."""

import numpy as np
import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.stage import air, sun
from brinebook.engine.stage.course import resample_course, synthetic_profile
from brinebook.engine.stage.effort import target_power_w
from brinebook.engine.stage.power_speed import Conditions, Machine, road_power, road_speed_m_per_s
from brinebook.engine.stage.segments import segment_stage
from engine.stage.skies import NOON_S, hourly
from hypothesis import given, settings
from hypothesis import strategies as st

temperatures = st.floats(-10.0, 45.0)
humidities = st.floats(0.02, 1.0)
ROLES = st.sampled_from(["leader", "domestique", "breakaway", "sprinter"])
KINDS = st.sampled_from(["flat", "hilly", "mountain"])
COURSES = {
    kind: synthetic_profile(kind, length_m=length_m, gain_m=gain_m)
    for kind, length_m, gain_m in (("flat", 60e3, 400), ("hilly", 50e3, 900), ("mountain", 50e3, 1800))
}


def _table(kind, role, **changes):
    rest = {"mass_kg": 68.0, "start_at_unix_s": NOON_S, "scheduled_duration_h": None, "weather": hourly()} | changes
    return segment_stage(COURSES[kind], stage_kind=kind, race_role=role, **rest)


@given(temperatures, humidities)
def test_dew_point_and_vapour_pressure_are_inverses(air_c, humidity_frac):
    vapour_pa = air.vapour_pressure_pa(air_c, relative_humidity_frac=humidity_frac)

    assert air.saturation_vapour_pressure_pa(air.dew_point_c(vapour_pa)) == pytest.approx(vapour_pa, rel=1e-9)


@given(st.floats(5.0, 45.0), st.floats(0.1, 1.0), st.floats(70e3, 102e3))
def test_wet_bulb_lies_between_dew_point_and_air(air_c, humidity_frac, pressure_pa):
    wet_c = float(air.wet_bulb_c(air_c, relative_humidity_frac=humidity_frac, pressure_pa=pressure_pa))
    dew_c = float(air.dew_point_c(air.vapour_pressure_pa(air_c, relative_humidity_frac=humidity_frac)))

    assert dew_c - 1e-6 <= wet_c <= air_c + 1e-6


@given(st.lists(temperatures, min_size=1, max_size=8))
def test_an_array_of_air_is_a_loop_of_scalars(temperatures_c):
    together = air.saturation_vapour_pressure_pa(np.array(temperatures_c))
    alone = [float(air.saturation_vapour_pressure_pa(air_c)) for air_c in temperatures_c]

    assert together == pytest.approx(alone, rel=1e-12)


@given(st.floats(2.0, 20.0), st.floats(-0.02, 0.15), st.floats(-6.0, 6.0), st.floats(0.9, 1.25))
def test_speed_gives_back_the_power_it_came_from(speed_m_per_s, gradient_frac, headwind_m_per_s, density):
    machine = Machine(mass_kg=77.0, drag_area_m2=0.3)
    conditions = Conditions(
        gradient_frac=gradient_frac, air_density_kg_per_m3=density, headwind_m_per_s=headwind_m_per_s
    )
    power_w = float(road_power(speed_m_per_s, machine=machine, conditions=conditions).total_w)
    if power_w <= 0.0:
        return

    found = road_speed_m_per_s(np.array([power_w]), machine=machine, conditions=conditions)
    again_w = road_power(found, machine=machine, conditions=conditions).total_w

    # In a strong tailwind two speeds may need one power; the ridden one is the faster.
    assert again_w == pytest.approx(power_w, abs=0.05)
    assert found[0] >= speed_m_per_s - 1e-3


@given(st.floats(50.0, 400.0), st.floats(0.0, 0.1))
def test_more_power_is_never_slower_and_more_gradient_never_faster(power_w, gradient_frac):
    machine = Machine(mass_kg=77.0, drag_area_m2=0.3)

    def _speed(watts, gradient):
        conditions = Conditions(gradient_frac=gradient, air_density_kg_per_m3=1.15)
        return float(road_speed_m_per_s(np.array([watts]), machine=machine, conditions=conditions)[0])

    assert _speed(power_w + 20.0, gradient_frac) >= _speed(power_w, gradient_frac) - 1e-6
    assert _speed(power_w, gradient_frac + 0.01) <= _speed(power_w, gradient_frac) + 1e-6


@settings(max_examples=25, deadline=None)
@given(KINDS, ROLES, st.lists(st.floats(1.0, 49.0), max_size=5))
def test_cutting_the_road_changes_no_energy_time_or_distance(kind, role, break_km):
    whole, cut = _table(kind, role), _table(kind, role, break_km=break_km)

    assert cut.elapsed_h[-1] == pytest.approx(whole.elapsed_h[-1], rel=1e-9)
    for name in ("power_w", "speed_m_per_s", "air_speed_m_per_s", "air_temperature_c", "elevation_m"):
        sums = [float((getattr(table, name) * table.duration_h).sum()) for table in (whole, cut)]
        assert sums[0] == pytest.approx(sums[1], rel=1e-9), name


@settings(max_examples=12, deadline=None)
@given(KINDS, ROLES, st.floats(50.0, 90.0))
def test_the_mean_power_of_a_stage_is_the_target_of_its_role(kind, role, mass_kg):
    table = _table(kind, role, mass_kg=mass_kg)
    mean_w = float((table.power_w * table.duration_h).sum() / table.elapsed_h[-1])

    assert mean_w == pytest.approx(target_power_w(mass_kg, stage_kind=kind, race_role=role), rel=0.01)


@settings(max_examples=12, deadline=None)
@given(KINDS, ROLES, st.floats(1.1, 2.5))
def test_any_schedule_is_kept_and_power_unchanged_by_it(kind, role, scheduled_duration_h):
    free, kept = _table(kind, role), _table(kind, role, scheduled_duration_h=scheduled_duration_h)
    means_w = [float((table.power_w * table.duration_h).sum() / table.elapsed_h[-1]) for table in (free, kept)]

    assert kept.elapsed_h[-1] == pytest.approx(scheduled_duration_h)
    assert means_w[0] == pytest.approx(means_w[1], rel=0.005)


@settings(max_examples=10, deadline=None)
@given(KINDS, ROLES)
def test_the_same_stage_twice_is_the_same_to_the_byte(kind, role):
    first, second = vars(_table(kind, role)), vars(_table(kind, role))

    for name, column in first.items():
        if isinstance(column, np.ndarray):
            assert column.tobytes() == second[name].tobytes(), name


@given(st.floats(0.0, 1400.0), st.floats(-20.0, 89.0))
def test_light_never_turns_negative_or_into_nothing(global_w_per_m2, elevation_deg):
    light = sun.split_irradiance(global_w_per_m2, sun_elevation_deg=elevation_deg)

    for part in vars(light).values():
        assert np.isfinite(part)
        assert part >= -1e-9


@given(st.lists(st.floats(0.0, 3000.0), min_size=2, max_size=30))
def test_a_grid_never_leaves_the_heights_it_was_given(heights_m):
    along_m = np.arange(len(heights_m)) * 80.0
    course = resample_course(along_m, heights_m, 44.0 + along_m / 111_195.0, np.full(along_m.size, 5.0))

    assert course.elevation_m.min() >= min(heights_m) - 1e-6
    assert course.elevation_m.max() <= max(heights_m) + 1e-6
    assert course.distance_m[-1] == along_m[-1]


@pytest.mark.parametrize("call", [
    lambda: air.saturation_vapour_pressure_pa(np.array([20.0, np.nan])),
    lambda: air.vapour_pressure_pa(20.0, relative_humidity_frac=1.2),
    lambda: air.standard_pressure_pa(np.inf),
    lambda: air.dew_point_c(0.0),
    lambda: sun.clear_sky_w_per_m2(np.nan),
    lambda: road_speed_m_per_s(
        np.array([-5.0]), machine=Machine(mass_kg=77.0, drag_area_m2=0.3),
        conditions=Conditions(gradient_frac=0.0, air_density_kg_per_m3=1.2),
    ),
])
def test_nan_and_the_impossible_raise_and_never_pass_silently(call):
    with pytest.raises(UnphysicalInput):
        call()
