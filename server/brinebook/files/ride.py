"""A recorded ride from FIT, TCX or GPX to records: one row per record, nan where the head unit wrote nothing."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from brinebook.engine.stage.course import travelled_m
from brinebook.engine.stage.ride import RideRecords
from brinebook.files.errors import FileProblem
from brinebook.files.fit import read_fit_rows
from brinebook.files.ride_rows import RideRow
from brinebook.files.ride_xml import read_gpx_rows, read_tcx_rows

LIMIT_BYTES = 30_000_000
LIMIT_RECORDS = 200_000
N_NEEDED = 2
FIT_MARK = slice(8, 12)

RideKind = Literal["fit", "tcx", "gpx"]


@dataclass(frozen=True, eq=False)
class RideFile:
    """A ride as its file has it; ``device_work_kj`` is the head unit's own sum, never its mean power."""

    kind: RideKind
    records: RideRecords
    device_work_kj: float | None
    has_power: bool


def read_ride(data: bytes) -> RideFile:
    """
    Read a ride; the format is known by its content, not by its name.

    Distance is the device's own where it wrote one, else the way between positions. Raises ``FileProblem`` with
    field, value and limit.
    """
    if len(data) > LIMIT_BYTES:
        raise FileProblem("file", f"{len(data)} bytes", f"at most {LIMIT_BYTES} bytes")
    kind, rows, device_work_kj = _rows(data)
    timed = [row for row in rows if row.at_unix_s is not None]
    if not N_NEEDED <= len(timed) <= LIMIT_RECORDS:
        raise FileProblem("records", f"{len(timed)} with a time", f"{N_NEEDED} to {LIMIT_RECORDS} records with a time")
    power_w = _column([row.power_w for row in timed])
    records = RideRecords(
        at_unix_s=_column([row.at_unix_s for row in timed]), power_w=power_w, travelled_m=_travelled_m(timed),
    )
    return RideFile(kind, records, device_work_kj, has_power=bool(np.isfinite(power_w).any()))


def _rows(data: bytes) -> tuple[RideKind, list[RideRow], float | None]:
    if data[FIT_MARK] == b".FIT":
        return "fit", *read_fit_rows(data)
    head = data[:4000]
    if b"TrainingCenterDatabase" in head:
        return "tcx", read_tcx_rows(data), None
    if b"<gpx" in head:
        return "gpx", read_gpx_rows(data), None
    raise FileProblem("file", "of no known kind", "a ride in FIT, TCX or GPX")


def _column(values: list[float | None]) -> NDArray[np.float64]:
    return np.array([np.nan if value is None else value for value in values], dtype=np.float64)


def _travelled_m(rows: list[RideRow]) -> NDArray[np.float64]:
    written_m = _column([row.travelled_m for row in rows])
    if np.isfinite(written_m).sum() >= N_NEEDED:
        return written_m
    north_deg, east_deg = _column([row.latitude_deg for row in rows]), _column([row.longitude_deg for row in rows])
    placed = np.flatnonzero(np.isfinite(north_deg) & np.isfinite(east_deg))
    if placed.size < N_NEEDED:
        raise FileProblem("distance", "missing", "a distance or a position in the records")
    wrong = placed[(np.abs(north_deg[placed]) > 90.0) | (np.abs(east_deg[placed]) > 180.0)]  # noqa: PLR2004 - the globe
    if wrong.size:
        raise FileProblem("position", f"{north_deg[wrong[0]]:g}, {east_deg[wrong[0]]:g}", "-90 to 90, -180 to 180")
    found_m = np.full(len(rows), np.nan)
    found_m[placed] = travelled_m(north_deg[placed], east_deg[placed])
    return found_m
