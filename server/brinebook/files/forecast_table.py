"""Forecasts from a pasted or uploaded CSV table, one row per hour and point."""

import csv
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import msgspec

from brinebook.engine.stage.air import saturation_vapour_pressure_pa
from brinebook.files.errors import FileProblem
from brinebook.records.edited import ForecastRow

LIMIT_CHARACTERS = 2_000_000
LIMIT_ROWS = 5_000
LIMIT_STEP_H = 3.0
LIMIT_DEW_ABOVE_AIR_C = 0.2
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MS_PER_H = 3_600_000
WITH_OFFSET = "ISO 8601 with offset"
WIND_UNITS = {"m/s": 1.0, "ms": 1.0, "mps": 1.0, "km/h": 1 / 3.6, "kmh": 1 / 3.6, "kt": 1852 / 3600, "kn": 1852 / 3600}
NEEDED = ("time", "temp_c", "wind_ms", "cloud_pct")
FIRST_LINE = 2
SHOWN_CHARACTERS = 80


@dataclass(frozen=True)
class _Line:
    """One line of the table: its number in the file and its cells by column."""

    number: int
    cells: dict[str, str]
    has_decimal_comma: bool

    def problem(self, field: str, value: str, limit: str) -> FileProblem:
        return FileProblem(field, value, limit, self.number)

    def number_or_none(self, field: str, low: float, high: float) -> float | None:
        text = self.cells.get(field, "")
        if not text:
            return None
        try:
            value = float(text.replace(",", ".") if self.has_decimal_comma else text)
        except ValueError as error:
            raise self.problem(field, text, f"a number from {low:g} to {high:g}") from error
        if not low <= value <= high:
            raise self.problem(field, text, f"{low:g} to {high:g}")
        return value

    def number_needed(self, field: str, low: float, high: float) -> float:
        value = self.number_or_none(field, low, high)
        if value is None:
            raise self.problem(field, "missing", f"a number from {low:g} to {high:g}")
        return value


def read_forecast(text: str, *, time_zone: str | None, finish_km: float | None = None) -> list[ForecastRow]:
    """
    Read a forecast table with the columns of the race book's template.

    ``time``, ``temp_c``, ``rh_pct`` or ``dewpoint_c``, ``wind_ms``, ``cloud_pct``; optional ``point``, ``km``,
    ``elev_m``, ``wind_from_deg``, ``wind_unit`` and ``ghi_wm2``. A time without an offset is read in ``time_zone``;
    with neither it is refused. A point named ``finish`` without ``km`` stands at ``finish_km``. Semicolons with
    decimal commas are understood. Raises ``FileProblem`` with field, value, limit and line.
    """
    zone = _zone(time_zone)
    rows = [_row(line, zone, finish_km) for line in _lines(text)]
    if not rows:
        raise FileProblem("rows", "0", "at least one row under the heading")
    rows.sort(key=lambda row: (row.km, row.point, row.at_ms))
    _check_steps(rows)
    try:
        return msgspec.convert([msgspec.to_builtins(row) for row in rows], list[ForecastRow])
    except msgspec.ValidationError as error:
        raise FileProblem("row", str(error), "the limits of a forecast row") from error


def _zone(time_zone: str | None) -> ZoneInfo | None:
    if time_zone is None:
        return None
    try:
        return ZoneInfo(time_zone)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise FileProblem("time_zone", time_zone, "an IANA time zone such as Europe/Paris") from error


def _lines(text: str) -> Iterable[_Line]:
    if len(text) > LIMIT_CHARACTERS:
        raise FileProblem("file", f"{len(text)} characters", f"at most {LIMIT_CHARACTERS} characters")
    lines = text.lstrip("\ufeff").splitlines()
    first = next((i for i, line in enumerate(lines) if line.strip()), len(lines))
    delimiter = max(";\t,", key="".join(lines[first : first + 1]).count)
    reader = _cells(lines[first:], delimiter)
    columns = [column.strip().lower() for column in next(reader, [])]
    for column in NEEDED:
        if column not in columns:
            raise FileProblem(column, "missing", "a column of this name")
    if not {"rh_pct", "dewpoint_c"} & set(columns):
        raise FileProblem("rh_pct", "missing", "a column rh_pct or dewpoint_c")
    for number, cells in enumerate(reader, start=first + FIRST_LINE):
        if number - first - FIRST_LINE >= LIMIT_ROWS:
            raise FileProblem("rows", f"more than {LIMIT_ROWS}", f"at most {LIMIT_ROWS} rows")
        if any(cell.strip() for cell in cells):
            named = {column: cell.strip() for column, cell in zip(columns, cells, strict=False)}
            yield _Line(number, named, has_decimal_comma=delimiter != ",")


def _cells(lines: list[str], delimiter: str) -> Iterator[list[str]]:
    # A quoted cell never runs over lines here, so each line is parsed alone and keeps its number.
    for line in lines:
        try:
            yield next(csv.reader([line], delimiter=delimiter), [])
        except csv.Error as error:
            raise FileProblem("row", line[:SHOWN_CHARACTERS], "cells separated by one character") from error


def _row(line: _Line, zone: ZoneInfo | None, finish_km: float | None) -> ForecastRow:
    air_c = line.number_needed("temp_c", -30.0, 55.0)
    point = line.cells.get("point", "") or "start"
    return ForecastRow(
        at_ms=_at_ms(line, zone),
        point=point,
        km=_km(line, point, finish_km),
        elevation_m=line.number_or_none("elev_m", -100.0, 5000.0) or 0.0,
        air_temperature_c=air_c,
        relative_humidity_frac=_humidity_frac(line, air_c),
        wind_m_per_s=_wind_m_per_s(line),
        wind_from_deg=line.number_or_none("wind_from_deg", 0.0, 360.0) or 0.0,
        cloud_frac=line.number_needed("cloud_pct", 0.0, 100.0) / 100.0,
        solar_w_per_m2=line.number_or_none("ghi_wm2", 0.0, 1400.0),
    )


def _at_ms(line: _Line, zone: ZoneInfo | None) -> int:
    text = line.cells.get("time", "")
    try:
        at = datetime.fromisoformat(text)
        if at.tzinfo is None and zone is not None:
            at = at.replace(tzinfo=zone)
        if at.tzinfo is not None:
            return round((at - EPOCH) / timedelta(milliseconds=1))
    except (ValueError, OverflowError) as error:
        raise line.problem("time", text or "missing", WITH_OFFSET) from error
    raise line.problem("time", text, WITH_OFFSET)


def _km(line: _Line, point: str, finish_km: float | None) -> float:
    km = line.number_or_none("km", 0.0, 400.0)
    if km is not None:
        return km
    if point.lower() == "start":
        return 0.0
    if point.lower() == "finish" and finish_km is not None:
        return finish_km
    raise line.problem("km", "missing", f"the kilometre of point {point[:40]}")


def _humidity_frac(line: _Line, air_c: float) -> float:
    humidity_pct = line.number_or_none("rh_pct", 1.0, 100.0)
    dew_c = line.number_or_none("dewpoint_c", -60.0, 55.0)
    if dew_c is not None and dew_c > air_c + LIMIT_DEW_ABOVE_AIR_C:
        raise line.problem("dewpoint_c", f"{dew_c:g}", f"at most {LIMIT_DEW_ABOVE_AIR_C:g} above temp_c, {air_c:g}")
    if humidity_pct is not None:
        return humidity_pct / 100.0
    if dew_c is None:
        raise line.problem("rh_pct", "missing", "rh_pct or dewpoint_c")
    saturated_pa = float(saturation_vapour_pressure_pa(air_c))
    return min(max(float(saturation_vapour_pressure_pa(dew_c)) / saturated_pa, 0.01), 1.0)


def _wind_m_per_s(line: _Line) -> float:
    unit = line.cells.get("wind_unit", "") or "m/s"
    factor = WIND_UNITS.get(unit.lower())
    if factor is None:
        raise line.problem("wind_unit", unit, "m/s, km/h or kt")
    limit = 35.0 / factor
    return min(line.number_needed("wind_ms", 0.0, round(limit, 1)) * factor, 35.0)


def _check_steps(rows: list[ForecastRow]) -> None:
    for before, after in pairwise(rows):
        if (before.point, before.km) != (after.point, after.km):
            continue
        step_h = (after.at_ms - before.at_ms) / MS_PER_H
        if step_h == 0.0:
            raise FileProblem("time", f"twice at {after.point}", "one row per point and hour")
        if step_h > LIMIT_STEP_H:
            raise FileProblem("time", f"a gap of {step_h:g} h at {after.point}", f"at most {LIMIT_STEP_H:g} h")
