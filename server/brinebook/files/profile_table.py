"""Courses without a track: a pasted table of kilometres and heights, or a kind, a length and a climb."""

import csv
from typing import Literal

import msgspec
import numpy as np

from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.stage.course import ascent_m, loop_positions_deg, synthetic_profile
from brinebook.engine.units import FloatArray
from brinebook.files.errors import FileProblem
from brinebook.records.edited import CoursePoint

LIMIT_CHARACTERS = 2_000_000
LIMIT_ROWS = 20_000
N_NEEDED = 2
LIMITS = {"km": (0.0, 400.0), "elev_m": (-100.0, 5000.0), "lat": (-90.0, 90.0), "lon": (-180.0, 180.0)}
MADE_STEP = 4
"""Nodes of the 50 m grid from one kept point to the next."""

MadeKind = Literal["flat", "hilly", "mountain", "time_trial", "mountain_time_trial", "rest"]


def read_profile(text: str, *, latitude_deg: float | None, longitude_deg: float | None) -> list[CoursePoint]:
    """
    Read a table with the columns ``km`` and ``elev_m``, and ``lat`` with ``lon`` where it has them.

    Without positions the road is laid out as one loop at the given place: the sun is right, and the wind comes from
    every side as a road of unknown direction would meet it. Raises ``FileProblem`` with field, value, limit and line.
    """
    rows = _rows(text)
    columns = {name: np.array([row[name] for row in rows], dtype=np.float64) for name in rows[0]}
    km = columns["km"]
    backward = np.flatnonzero(np.diff(km) <= 0.0)
    if backward.size:
        raise FileProblem("km", f"{km[backward[0] + 1]:g}", f"more than {km[backward[0]]:g}, the row before",
                          int(backward[0]) + 3)
    along_m = 1000.0 * (km - km[0])
    if "lat" in columns:
        north_deg, east_deg = columns["lat"], columns["lon"]
    else:
        north_deg, east_deg = _loop(along_m, latitude_deg, longitude_deg)
    return _points(along_m, columns["elev_m"], north_deg, east_deg)


def made_course(
    kind: MadeKind, *, length_km: float, gain_m: float, latitude_deg: float, longitude_deg: float
) -> list[CoursePoint]:
    """Make up a course from its kind, length and climbing. Raises ``FileProblem`` where they cannot go together."""
    try:
        made = synthetic_profile(
            kind, length_m=1000.0 * length_km, gain_m=gain_m, latitude_deg=latitude_deg, longitude_deg=longitude_deg
        )
    except UnphysicalInput as problem:
        raise FileProblem(problem.name, f"{problem.value:g}", "a length and a climb that fit one road") from problem
    kept = np.unique(np.append(np.arange(0, made.distance_m.size, MADE_STEP), made.distance_m.size - 1))
    # The grid smooths heights; the lost metres are given back so that the road climbs what was asked.
    lost = gain_m / ascent_m(made) if gain_m > 0.0 else 1.0
    heights_m = made.elevation_m[0] + lost * (made.elevation_m - made.elevation_m[0])
    return _points(
        made.distance_m[kept], heights_m[kept], made.latitude_deg[kept], made.longitude_deg[kept]
    )


def _loop(
    along_m: FloatArray, latitude_deg: float | None, longitude_deg: float | None
) -> tuple[FloatArray, FloatArray]:
    if latitude_deg is None or longitude_deg is None:
        raise FileProblem("lat", "missing", "columns lat and lon, or the latitude and longitude of the stage")
    try:
        return loop_positions_deg(along_m, latitude_deg=latitude_deg, longitude_deg=longitude_deg)
    except UnphysicalInput as problem:
        raise FileProblem(problem.name, f"{problem.value:g}", "a place on the globe below 80 degrees") from problem


def _points(
    along_m: FloatArray, height_m: FloatArray, north_deg: FloatArray, east_deg: FloatArray
) -> list[CoursePoint]:
    columns = [np.round(values, digits).tolist() for values, digits in (
        (along_m / 1000.0, 4), (height_m, 1), (north_deg, 6), (east_deg, 6))]
    return msgspec.convert(list(zip(*columns, strict=True)), list[CoursePoint])


def _rows(text: str) -> list[dict[str, float]]:
    if len(text) > LIMIT_CHARACTERS:
        raise FileProblem("file", f"{len(text)} characters", f"at most {LIMIT_CHARACTERS} characters")
    lines = [(number, line) for number, line in enumerate(text.lstrip("\ufeff").splitlines(), start=1) if line.strip()]
    if len(lines) - 1 < N_NEEDED or len(lines) > LIMIT_ROWS:
        raise FileProblem("rows", str(max(0, len(lines) - 1)), f"{N_NEEDED} to {LIMIT_ROWS} rows under the heading")
    delimiter = max(";\t,", key=lines[0][1].count)
    names = [cell.strip().lower() for cell in next(csv.reader([lines[0][1]], delimiter=delimiter))]
    for name in ("km", "elev_m"):
        if name not in names:
            raise FileProblem(name, "missing", "a column of this name")
    wanted = [*("km", "elev_m"), *(("lat", "lon") if {"lat", "lon"} <= set(names) else ())]
    places = {name: names.index(name) for name in wanted}
    return [_row(number, line, places, delimiter) for number, line in lines[1:]]


def _row(number: int, line: str, places: dict[str, int], delimiter: str) -> dict[str, float]:
    try:
        cells = next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error as error:
        raise FileProblem("row", line[:80], "cells separated by one character", number) from error
    found = {}
    for name, place in places.items():
        low, high = LIMITS[name]
        cell = cells[place].strip() if place < len(cells) else ""
        try:
            value = float(cell.replace(",", ".") if delimiter != "," else cell)
        except ValueError as error:
            raise FileProblem(name, cell or "missing", f"a number from {low:g} to {high:g}", number) from error
        if not low <= value <= high:
            raise FileProblem(name, cell, f"{low:g} to {high:g}", number)
        found[name] = value
    return found
