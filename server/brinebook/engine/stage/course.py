"""The course on an even grid: distance, smoothed height, gradient and direction of travel."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from brinebook.engine.constants import road
from brinebook.engine.errors import UnphysicalInput, finite, physical
from brinebook.engine.units import FloatArray, Floats

LOOP_LATITUDE_DEG = 80.0
CLIMB_HEIGHT_M = {"flat": 120.0, "hilly": 250.0, "mountain": 900.0}
CLIMB_GRADIENT_FRAC = {"flat": 0.03, "hilly": 0.055, "mountain": 0.072}


@dataclass(frozen=True, eq=False)
class Course:
    """A course of n nodes 50 m apart (the last step may be shorter) and n-1 steps between them."""

    distance_m: FloatArray
    elevation_m: FloatArray
    latitude_deg: FloatArray
    longitude_deg: FloatArray
    gradient_frac: FloatArray
    """Per step, shape (n-1,), clamped to 25 percent."""
    bearing_deg: FloatArray
    """Direction of travel per step, shape (n-1,), clockwise from north."""


def haversine_m(
    latitude_deg: FloatArray, longitude_deg: FloatArray, *, to_latitude_deg: FloatArray, to_longitude_deg: FloatArray
) -> FloatArray:
    """
    Great-circle distance between points.

    Parameters
    ----------
    latitude_deg, longitude_deg : array, shape (n,)
        Where from [deg].
    to_latitude_deg, to_longitude_deg : array, shape (n,)
        Where to [deg].

    Returns
    -------
    array, shape (n,)
        Distance on the mean sphere [m].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``iugg1980``.
    """
    finite(
        latitude_deg=latitude_deg, longitude_deg=longitude_deg, to_latitude_deg=to_latitude_deg,
        to_longitude_deg=to_longitude_deg,
    )
    north_rad, to_north_rad = np.radians(latitude_deg), np.radians(to_latitude_deg)
    half_east_rad = np.radians(np.asarray(to_longitude_deg) - longitude_deg) / 2.0
    half_chord = (
        np.sin((to_north_rad - north_rad) / 2.0) ** 2
        + np.cos(north_rad) * np.cos(to_north_rad) * np.sin(half_east_rad) ** 2
    )
    return np.asarray(2.0 * road.EARTH_RADIUS_M * np.arcsin(np.sqrt(np.minimum(half_chord, 1.0))))


def travelled_m(latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> FloatArray:
    """
    Distance travelled at each point of a track.

    Parameters
    ----------
    latitude_deg, longitude_deg : array, shape (n,)
        The track [deg].

    Returns
    -------
    array, shape (n,)
        Distance from the first point [m].

    References
    ----------
    .. [1] Source key ``iugg1980``.
    """
    north_deg = physical("latitude_deg", latitude_deg, low=-90.0, high=90.0)
    east_deg = physical("longitude_deg", longitude_deg, low=-180.0, high=180.0)
    steps_m = haversine_m(north_deg[:-1], east_deg[:-1], to_latitude_deg=north_deg[1:], to_longitude_deg=east_deg[1:])
    return np.concatenate([[0.0], np.cumsum(steps_m)])


def resample_course(
    distance_m: ArrayLike, elevation_m: ArrayLike, latitude_deg: ArrayLike, longitude_deg: ArrayLike
) -> Course:
    """
    Put a course on the 50 m grid and smooth its heights.

    Parameters
    ----------
    distance_m : array, shape (m,)
        Distance from the first point, rising [m].
    elevation_m : array, shape (m,)
        Height [m].
    latitude_deg, longitude_deg : array, shape (m,)
        Position [deg].

    Returns
    -------
    Course
        Heights are a centred mean of five nodes; gradient is clamped.

    Raises
    ------
    UnphysicalInput
        If fewer than two points are apart, or any number is not finite.

    Notes
    -----
    Raw sums of height overstate climbing by 7 percent in hills and far more on the flat.

    References
    ----------
    .. [1] Source key ``own_defaults``.
    """
    along_m = physical("distance_m", distance_m, low=0.0)
    height_m = physical("elevation_m", elevation_m, low=-500.0, high=9000.0)
    north_deg = physical("latitude_deg", latitude_deg, low=-90.0, high=90.0)
    east_deg = physical("longitude_deg", longitude_deg, low=-180.0, high=180.0)
    highest_so_far_m = np.maximum.accumulate(np.concatenate([[-np.inf], along_m[:-1]]))
    is_kept = along_m - highest_so_far_m >= road.SMALLEST_STEP_M
    if int(is_kept.sum()) < 2:  # noqa: PLR2004 -- a line has two ends
        raise UnphysicalInput("distance_m", float(along_m[-1]) if along_m.size else 0.0)
    known_m = along_m[is_kept] - along_m[is_kept][0]
    grid_m = _grid_m(float(known_m[-1]))
    smooth_m = _smoothed_m(np.interp(grid_m, known_m, height_m[is_kept]))
    grid_north_deg = np.interp(grid_m, known_m, north_deg[is_kept])
    grid_east_deg = np.interp(grid_m, known_m, east_deg[is_kept])
    gradient_frac = np.diff(smooth_m) / np.diff(grid_m)
    return Course(
        distance_m=grid_m,
        elevation_m=smooth_m,
        latitude_deg=grid_north_deg,
        longitude_deg=grid_east_deg,
        gradient_frac=np.clip(gradient_frac, -road.GRADIENT_LIMIT_FRAC, road.GRADIENT_LIMIT_FRAC),
        bearing_deg=_bearing_deg(grid_north_deg, grid_east_deg),
    )


def _grid_m(length_m: float) -> FloatArray:
    grid_m = np.arange(0.0, length_m, road.COURSE_STEP_M)
    # A last step of a few metres would make a wild gradient, so it is joined to the step before.
    if grid_m.size > 1 and length_m - grid_m[-1] < road.COURSE_STEP_M / 2.0:
        grid_m = grid_m[:-1]
    return np.append(grid_m, length_m)


def _smoothed_m(height_m: FloatArray) -> FloatArray:
    half = road.SMOOTHING_POINTS // 2
    padded_m = np.pad(height_m, half, mode="edge")
    return np.convolve(padded_m, np.full(road.SMOOTHING_POINTS, 1.0 / road.SMOOTHING_POINTS), mode="valid")


def _bearing_deg(north_deg: FloatArray, east_deg: FloatArray) -> FloatArray:
    north_rad = np.radians(north_deg)
    turn_rad = np.radians(np.diff(east_deg))
    eastward = np.sin(turn_rad) * np.cos(north_rad[1:])
    northward = np.cos(north_rad[:-1]) * np.sin(north_rad[1:]) - np.sin(north_rad[:-1]) * np.cos(
        north_rad[1:]
    ) * np.cos(turn_rad)
    return np.asarray(np.degrees(np.arctan2(eastward, northward)) % 360.0)


def from_real_start(course: Course, *, km0_m: float) -> Course:
    """
    Leave out the neutral roll-out and count from the real start.

    Parameters
    ----------
    course : Course
        The course from the first point of its file.
    km0_m : float
        Where the real start is on it [m].

    Returns
    -------
    Course
        The rest of the course, beginning at distance 0; its first step may be shorter.

    Raises
    ------
    UnphysicalInput
        If the real start is not on the course.

    References
    ----------
    .. [1] Source key ``own_defaults``.
    """
    physical("km0_m", km0_m, low=0.0, high=float(course.distance_m[-1]) - road.SMALLEST_STEP_M)
    first = int(np.searchsorted(course.distance_m, km0_m, side="right"))

    def _cut(value: FloatArray) -> FloatArray:
        return np.concatenate([[np.interp(km0_m, course.distance_m, value)], value[first:]])

    return Course(
        distance_m=_cut(course.distance_m) - km0_m,
        elevation_m=_cut(course.elevation_m),
        latitude_deg=_cut(course.latitude_deg),
        longitude_deg=_cut(course.longitude_deg),
        gradient_frac=course.gradient_frac[first - 1 :],
        bearing_deg=course.bearing_deg[first - 1 :],
    )


def ascent_m(course: Course) -> float:
    """
    Height gained along a course.

    Parameters
    ----------
    course : Course
        A resampled course.

    Returns
    -------
    float
        Sum of the rises of the smoothed heights [m].

    References
    ----------
    .. [1] Source key ``own_defaults``.
    """
    return float(np.maximum(np.diff(course.elevation_m), 0.0).sum())


def synthetic_profile(
    kind: str, *, length_m: float, gain_m: float, latitude_deg: Floats = 44.0, longitude_deg: Floats = 5.0
) -> Course:
    """
    Make up a course from its kind, length and climbing: even climbs, equal descents, one big loop.

    Parameters
    ----------
    kind : str
        ``flat``, ``hilly`` or ``mountain``; a mountain course ends at the top of its last climb.
    length_m : float
        Length [m].
    gain_m : float
        Climbing [m].
    latitude_deg, longitude_deg : float
        Where the loop starts [deg].

    Returns
    -------
    Course
        A course on the 50 m grid.

    References
    ----------
    .. [1] Source key ``own_defaults``.
    """
    total_m = float(physical("length_m", length_m, low=road.COURSE_STEP_M))
    shape = kind if kind in CLIMB_HEIGHT_M else "hilly"
    n_climbs = max(1, round(gain_m / CLIMB_HEIGHT_M[shape]))
    climb_m = gain_m / n_climbs / CLIMB_GRADIENT_FRAC[shape]
    n_ramps = 2 * n_climbs - (1 if shape == "mountain" else 0)
    flat_m = total_m - n_ramps * climb_m
    if flat_m < 0.0:
        raise UnphysicalInput("gain_m", gain_m)
    rises_m = np.tile([gain_m / n_climbs, -gain_m / n_climbs], n_climbs)[:n_ramps]
    lengths_m = np.empty(2 * n_ramps)
    lengths_m[0::2], lengths_m[1::2] = flat_m / n_ramps, climb_m
    knots_m = np.concatenate([[0.0], np.cumsum(lengths_m)])
    heights_m = np.concatenate([[0.0], np.cumsum(np.stack([0.0 * rises_m, rises_m], axis=1).ravel())])
    along_m = np.linspace(0.0, total_m, max(3, int(total_m // road.COURSE_STEP_M)))
    north_deg, east_deg = loop_positions_deg(along_m, latitude_deg=latitude_deg, longitude_deg=longitude_deg)
    return resample_course(along_m, np.interp(along_m, knots_m, heights_m), north_deg, east_deg)


def loop_positions_deg(
    along_m: FloatArray, *, latitude_deg: Floats, longitude_deg: Floats
) -> tuple[FloatArray, FloatArray]:
    """
    Lay a road of unknown direction out as one big loop, so that it meets the wind from every side.

    Parameters
    ----------
    along_m : array, shape (n,)
        Distance of each point from the start [m], ascending.
    latitude_deg : float
        Where the stage is [deg].
    longitude_deg : float
        Where the stage is [deg].

    Returns
    -------
    tuple of array, shape (n,)
        Latitude and longitude of each point [deg].

    Raises
    ------
    UnphysicalInput
        If the place is not on the globe, or the road has no length.

    References
    ----------
    .. [1] Source key ``own_defaults``.
    """
    north = physical("latitude_deg", latitude_deg, low=-LOOP_LATITUDE_DEG, high=LOOP_LATITUDE_DEG)
    east = physical("longitude_deg", longitude_deg, low=-180.0, high=180.0)
    length_m = float(physical("length_m", along_m[-1], low=road.SMALLEST_STEP_M))
    angle_rad = 2.0 * np.pi * along_m / length_m
    radius_deg = np.degrees(length_m / (2.0 * np.pi) / road.EARTH_RADIUS_M)
    return (
        np.asarray(north + radius_deg * (1.0 - np.cos(angle_rad))),
        np.asarray(east + radius_deg * np.sin(angle_rad) / np.cos(np.radians(north))),
    )
