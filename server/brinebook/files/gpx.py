"""Courses from GPX 1.1: the track, else the route, thinned to what the 50 m grid can use."""

import math
import re

import gpxpy
import msgspec
import numpy as np
from gpxpy.gpx import GPX, GPXException, GPXRoutePoint, GPXTrackPoint
from numpy.typing import NDArray

from brinebook.engine.stage.course import travelled_m
from brinebook.files.errors import FileProblem
from brinebook.files.plain_xml import plain_xml
from brinebook.records.edited import CoursePoint

LIMIT_BYTES = 20_000_000
LIMIT_KM = 400.0
THINNED_M = 40.0
N_POINTS_NEEDED = 2
SHOWN_CHARACTERS = 80
WELL_FORMED = "a well-formed GPX file with numbers in lat, lon and ele"
LIMITS = {
    "lat": (-90.0, 90.0),
    "lon": (-180.0, 180.0),
    "ele": (-100.0, 5000.0),
}

Point = GPXTrackPoint | GPXRoutePoint


def read_gpx(data: bytes) -> list[CoursePoint]:
    """
    Read a course; segments are joined, doubled points dropped, missing heights drawn between neighbours.

    Distance is summed over every point of the file and only then are points closer than 40 m left out, which changes
    neither length nor climbing. Raises ``FileProblem`` with field, value and limit.
    """
    if len(data) > LIMIT_BYTES:
        raise FileProblem("file", f"{len(data)} bytes", f"at most {LIMIT_BYTES} bytes")
    points = _points(_parsed(data))
    if len(points) < N_POINTS_NEEDED:
        raise FileProblem("trkpt", f"{len(points)} points", f"at least {N_POINTS_NEEDED} points in a track or route")
    north_deg = _column("lat", [point.latitude for point in points])
    east_deg = _column("lon", [point.longitude for point in points])
    height_m = _filled(_column("ele", [math.nan if p.elevation is None else p.elevation for p in points]))
    along_m = travelled_m(north_deg, east_deg)
    if not 0.0 < along_m[-1] <= LIMIT_KM * 1000.0:
        raise FileProblem("distance_km", f"{along_m[-1] / 1000.0:.3f}", f"above 0, at most {LIMIT_KM:.0f}")
    kept = _thinned(along_m)
    # A file has no more digits than these worth keeping, and every phone receives them.
    columns = [
        np.round(values[kept], digits).tolist()
        for values, digits in ((along_m / 1000.0, 4), (height_m, 1), (north_deg, 6), (east_deg, 6))
    ]
    return msgspec.convert(list(zip(*columns, strict=True)), list[CoursePoint])


def _parsed(data: bytes) -> GPX:
    text = plain_xml(data)
    try:
        return gpxpy.parse(text)
    except (GPXException, ValueError, AttributeError, TypeError) as error:
        raise _named_problem(str(error), text) from error


def _named_problem(message: str, text: str) -> FileProblem:
    """Name the field that the parser stumbled on; attributes reach it without their name."""
    not_a_number = re.search(r"Invalid value for <(\w+)>\.\.\. (.*?) \(", message)
    if not_a_number is not None:
        field, value = not_a_number.groups()
        if field not in LIMITS:
            written = re.search(rf"\b(lat|lon)=['\"]{re.escape(value)}['\"]", text)
            field = written[1] if written else field
        low, high = LIMITS.get(field, (-np.inf, np.inf))
        return FileProblem(field, value[:SHOWN_CHARACTERS], f"a number from {low:g} to {high:g}")
    absent = re.match(r"(lat|lon)\w+ is mandatory", message)
    if absent is not None:
        return FileProblem(absent[1], "missing", "a number at every point")
    return FileProblem("file", message[:SHOWN_CHARACTERS], WELL_FORMED)


def _points(gpx: GPX) -> list[Point]:
    track: list[Point] = [point for track in gpx.tracks for segment in track.segments for point in segment.points]
    return track or [point for route in gpx.routes for point in route.points]


def _column(field: str, values: list[float]) -> NDArray[np.float64]:
    low, high = LIMITS[field]
    numbers = np.asarray(values, dtype=np.float64)
    is_missing = np.isnan(numbers) if field == "ele" else np.zeros(numbers.size, dtype=bool)
    wrong = np.flatnonzero(~is_missing & ~((numbers >= low) & (numbers <= high)))
    if wrong.size:
        raise FileProblem(field, f"{numbers[wrong[0]]:g} at point {wrong[0] + 1}", f"{low:g} to {high:g}")
    return numbers


def _filled(height_m: NDArray[np.float64]) -> NDArray[np.float64]:
    known = np.flatnonzero(~np.isnan(height_m))
    if known.size == 0:
        raise FileProblem("ele", "missing", "a height at the points of the course")
    return np.interp(np.arange(height_m.size), known, height_m[known])


def _thinned(along_m: NDArray[np.float64]) -> list[int]:
    kept = [0]
    for i in range(1, along_m.size):
        if along_m[i] - along_m[kept[-1]] >= THINNED_M:
            kept.append(i)
    last = along_m.size - 1
    if kept[-1] != last and along_m[last] > along_m[kept[-1]]:
        kept.append(last)
    return kept
