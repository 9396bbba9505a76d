"""Power and speed on the road, Martin et al. 1998, in both directions."""

from dataclasses import dataclass

import numpy as np

from brinebook.engine.constants import road
from brinebook.engine.errors import finite, physical
from brinebook.engine.units import FloatArray, Floats

NEWTON_STEPS = 40
SPEED_TOLERANCE_M_PER_S = 1e-6


@dataclass(frozen=True, kw_only=True, eq=False)
class Machine:
    """Rider and bicycle as one machine on the road."""

    mass_kg: float
    """Rider, bicycle, kit and bottles together."""
    drag_area_m2: Floats
    wheel_drag_area_m2: float = road.WHEEL_DRAG_AREA_M2
    rolling_resistance_frac: float = road.ROLLING_RESISTANCE_FRAC
    drivetrain_efficiency_frac: float = road.DRIVETRAIN_EFFICIENCY_FRAC
    wheel_inertia_kg_m2: float = road.WHEEL_INERTIA_KG_M2
    wheel_radius_m: float = road.WHEEL_RADIUS_M


@dataclass(frozen=True, kw_only=True, eq=False)
class Conditions:
    """What the road and the air do; arrays of one shape."""

    gradient_frac: Floats
    air_density_kg_per_m3: Floats
    headwind_m_per_s: Floats = 0.0


@dataclass(frozen=True, eq=False)
class RoadPower:
    """Power at the wheel by where it goes, and at the crank."""

    air_speed_m_per_s: FloatArray
    aerodynamic_w: FloatArray
    rolling_w: FloatArray
    bearing_w: FloatArray
    potential_w: FloatArray
    kinetic_w: FloatArray
    net_w: FloatArray
    total_w: FloatArray


def headwind_m_per_s(wind_m_per_s: Floats, *, wind_from_deg: Floats, bearing_deg: Floats) -> FloatArray:
    """
    Part of the wind that blows against the direction of travel.

    Parameters
    ----------
    wind_m_per_s : float or array, shape (n,)
        Wind at the rider's height [m/s].
    wind_from_deg : float or array, shape (n,)
        Direction the wind comes from [deg].
    bearing_deg : float or array, shape (n,)
        Direction of travel [deg].

    Returns
    -------
    array, shape (n,)
        Headwind, negative from behind [m/s].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``martin1998``.
    """
    finite(wind_m_per_s=wind_m_per_s, wind_from_deg=wind_from_deg, bearing_deg=bearing_deg)
    return np.asarray(wind_m_per_s * np.cos(np.radians(np.asarray(wind_from_deg) - bearing_deg)))


def unknown_wind_drag_factor(speed_m_per_s: Floats, *, wind_m_per_s: Floats) -> FloatArray:
    """
    Mean factor on air drag when the wind may come from anywhere.

    Parameters
    ----------
    speed_m_per_s : float or array, shape (n,)
        Road speed, above zero [m/s].
    wind_m_per_s : float or array, shape (n,)
        Wind of unknown direction [m/s].

    Returns
    -------
    array, shape (n,)
        Factor of at least 1.

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``martin1998``; the mean over direction is exact.
    """
    finite(speed_m_per_s=speed_m_per_s, wind_m_per_s=wind_m_per_s)
    return np.asarray(1.0 + np.square(wind_m_per_s) / (2.0 * np.square(speed_m_per_s)))


def kinetic_power_w(
    machine: Machine, *, speed_before_m_per_s: Floats, speed_after_m_per_s: Floats, duration_s: Floats
) -> FloatArray:
    """
    Power that goes into going faster, turning wheels included.

    Parameters
    ----------
    machine : Machine
        Rider and bicycle.
    speed_before_m_per_s, speed_after_m_per_s : float or array, shape (n,)
        Speeds at the ends [m/s].
    duration_s : float or array, shape (n,)
        Time between them [s].

    Returns
    -------
    array, shape (n,)
        Mean kinetic power [W].

    References
    ----------
    .. [1] Source key ``martin1998``.
    """
    moving_kg = machine.mass_kg + machine.wheel_inertia_kg_m2 / machine.wheel_radius_m**2
    gained_j_per_kg = (np.square(speed_after_m_per_s) - np.square(speed_before_m_per_s)) / 2.0
    return np.asarray(moving_kg * gained_j_per_kg / duration_s)


def road_power(
    speed_m_per_s: Floats, *, machine: Machine, conditions: Conditions, kinetic_w: Floats = 0.0
) -> RoadPower:
    """
    Power needed to hold a speed.

    Parameters
    ----------
    speed_m_per_s : float or array, shape (n,)
        Road speed [m/s].
    machine : Machine
        Rider and bicycle.
    conditions : Conditions
        Gradient, air density and headwind.
    kinetic_w : float or array, shape (n,)
        Power into acceleration [W].

    Returns
    -------
    RoadPower
        Every part at the wheel, and the total at the crank.

    References
    ----------
    .. [1] Source key ``martin1998``, eq. 14.
    """
    speed = physical("speed_m_per_s", speed_m_per_s, low=0.0)
    air_speed = speed + conditions.headwind_m_per_s
    drag_area_m2 = machine.drag_area_m2 + machine.wheel_drag_area_m2
    slope_rad = np.arctan(conditions.gradient_frac)
    weight_n = machine.mass_kg * road.GRAVITY_M_PER_S2
    # A tailwind faster than the rider pushes, hence the sign of the air speed.
    drag_n = conditions.air_density_kg_per_m3 / 2.0 * drag_area_m2 * air_speed * np.abs(air_speed)
    aerodynamic_w = drag_n * speed
    rolling_w = speed * machine.rolling_resistance_frac * weight_n * np.cos(slope_rad)
    bearing_w = speed * (road.BEARING_CONSTANT_N + road.BEARING_SLOPE_N_S_PER_M * speed)
    potential_w = speed * weight_n * np.sin(slope_rad)
    net_w = aerodynamic_w + rolling_w + bearing_w + potential_w + kinetic_w
    return RoadPower(
        air_speed_m_per_s=np.asarray(air_speed),
        aerodynamic_w=np.asarray(aerodynamic_w),
        rolling_w=np.asarray(rolling_w),
        bearing_w=np.asarray(bearing_w),
        potential_w=np.asarray(potential_w),
        kinetic_w=np.asarray(kinetic_w),
        net_w=np.asarray(net_w),
        total_w=np.asarray(net_w / machine.drivetrain_efficiency_frac),
    )


def road_speed_m_per_s(power_w: FloatArray, *, machine: Machine, conditions: Conditions) -> FloatArray:
    """
    Steady speed that a power gives, between walking pace and the descent cap.

    Parameters
    ----------
    power_w : array, shape (n,)
        Power at the crank [W].
    machine : Machine
        Rider and bicycle.
    conditions : Conditions
        Gradient, air density and headwind.

    Returns
    -------
    array, shape (n,)
        Speed from 1.5 to 20.8 m/s [m/s].

    Notes
    -----
    Newton steps from the cap downwards, kept inside a shrinking bracket; the largest root is the ridden one.

    References
    ----------
    .. [1] Source key ``martin1998``.
    """
    wheel_w = physical("power_w", power_w, low=0.0) * machine.drivetrain_efficiency_frac
    slope_rad = np.arctan(conditions.gradient_frac)
    weight_n = machine.mass_kg * road.GRAVITY_M_PER_S2
    steady_n = (
        weight_n * (machine.rolling_resistance_frac * np.cos(slope_rad) + np.sin(slope_rad)) + road.BEARING_CONSTANT_N
    )
    drag_kg_per_m = (machine.drag_area_m2 + machine.wheel_drag_area_m2) * conditions.air_density_kg_per_m3 / 2.0
    low = np.full(np.shape(wheel_w + steady_n + drag_kg_per_m), road.SPEED_FLOOR_M_PER_S)
    high = np.full_like(low, road.SPEED_CAP_M_PER_S)
    speed = high.copy()
    for _ in range(NEWTON_STEPS):
        air_speed = speed + conditions.headwind_m_per_s
        drag_n = drag_kg_per_m * air_speed * np.abs(air_speed)
        excess_w = speed * (drag_n + steady_n + road.BEARING_SLOPE_N_S_PER_M * speed) - wheel_w
        slope_n = (
            drag_n + steady_n + 2.0 * speed * (drag_kg_per_m * np.abs(air_speed) + road.BEARING_SLOPE_N_S_PER_M)
        )
        high, low = np.where(excess_w > 0.0, speed, high), np.where(excess_w > 0.0, low, speed)
        stepped = speed - excess_w / np.where(slope_n > 0.0, slope_n, np.inf)
        is_inside = (stepped >= low) & (stepped <= high) & (slope_n > 0.0)
        moved = np.where(is_inside, stepped, (low + high) / 2.0)
        is_done = bool(np.all(np.abs(moved - speed) < SPEED_TOLERANCE_M_PER_S))
        speed = moved
        if is_done:
            break
    return speed
