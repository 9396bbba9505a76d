"""Speed on the road obeys physics at its edges."""

import numpy as np
import pytest
from brinebook.engine.constants import road
from brinebook.engine.stage.power_speed import (
    Conditions,
    Machine,
    headwind_m_per_s,
    kinetic_power_w,
    road_power,
    road_speed_m_per_s,
    unknown_wind_drag_factor,
)

MACHINE = Machine(mass_kg=77.0, drag_area_m2=0.3)


def _speed(power_w, **conditions):
    given = {"gradient_frac": 0.0, "air_density_kg_per_m3": 1.15} | conditions
    return float(road_speed_m_per_s(np.array([power_w]), machine=MACHINE, conditions=Conditions(**given))[0])


def test_a_steep_descent_ends_at_the_speed_cap():
    assert _speed(0.0, gradient_frac=-0.12) == road.SPEED_CAP_M_PER_S


def test_a_wall_is_climbed_at_walking_pace_at_least():
    assert _speed(20.0, gradient_frac=0.25) == pytest.approx(road.SPEED_FLOOR_M_PER_S)


def test_thin_air_is_faster():
    assert _speed(250.0, air_density_kg_per_m3=0.95) > _speed(250.0, air_density_kg_per_m3=1.2)


def test_a_wind_from_ahead_slows_and_from_behind_pushes():
    assert _speed(250.0, headwind_m_per_s=4.0) < _speed(250.0) < _speed(250.0, headwind_m_per_s=-4.0)


def test_a_tailwind_faster_than_the_rider_pushes():
    power = road_power(5.0, machine=MACHINE, conditions=Conditions(
        gradient_frac=0.0, air_density_kg_per_m3=1.2, headwind_m_per_s=-9.0
    ))

    assert power.aerodynamic_w < 0.0


def test_a_wind_from_the_side_is_neither():
    assert headwind_m_per_s(6.0, wind_from_deg=90.0, bearing_deg=0.0) == pytest.approx(0.0, abs=1e-12)
    assert headwind_m_per_s(6.0, wind_from_deg=350.0, bearing_deg=350.0) == pytest.approx(6.0)


def test_the_parts_add_up_to_the_whole():
    power = road_power(9.0, machine=MACHINE, conditions=Conditions(gradient_frac=0.02, air_density_kg_per_m3=1.15))
    parts = power.aerodynamic_w + power.rolling_w + power.bearing_w + power.potential_w + power.kinetic_w

    assert parts == pytest.approx(power.net_w)
    assert power.total_w == pytest.approx(power.net_w / road.DRIVETRAIN_EFFICIENCY_FRAC)


def test_speeding_up_and_slowing_down_again_costs_nothing_net():
    up = kinetic_power_w(MACHINE, speed_before_m_per_s=8.0, speed_after_m_per_s=12.0, duration_s=10.0)
    down = kinetic_power_w(MACHINE, speed_before_m_per_s=12.0, speed_after_m_per_s=8.0, duration_s=10.0)

    assert up + down == pytest.approx(0.0)


def test_an_unknown_wind_equals_the_mean_over_all_directions():
    directions_rad = np.linspace(0.0, 2.0 * np.pi, 3600, endpoint=False)
    air_m_per_s = 8.9 + 3.0 * np.cos(directions_rad)
    mean = np.mean(air_m_per_s**2) / 8.9**2

    assert unknown_wind_drag_factor(8.9, wind_m_per_s=3.0) == pytest.approx(mean, rel=1e-9)


def test_speed_on_a_kilometre_of_mixed_road_equals_a_loop_of_its_parts():
    gradients = np.array([-0.1, -0.01, 0.0, 0.04, 0.12])
    powers = np.array([0.0, 120.0, 250.0, 320.0, 400.0])
    together = road_speed_m_per_s(
        powers, machine=MACHINE, conditions=Conditions(gradient_frac=gradients, air_density_kg_per_m3=1.15)
    )

    alone = [_speed(power_w, gradient_frac=gradient) for power_w, gradient in zip(powers, gradients, strict=True)]

    assert together == pytest.approx(alone, abs=1e-5)
