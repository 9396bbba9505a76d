"""FIT activities through fitdecode: record messages and the session's total work."""

import struct
from datetime import datetime

import fitdecode

from brinebook.files.errors import FileProblem
from brinebook.files.ride_rows import RideRow

SEMICIRCLE_DEG = 180.0 / 2**31
J_PER_KJ = 1000.0
SHOWN_CHARACTERS = 80
# The reader lets low-level errors through where the bytes make no sense to it.
DAMAGED = (
    fitdecode.FitError, struct.error, ValueError, TypeError, LookupError, ArithmeticError, AttributeError,
    AssertionError,
)


def read_fit_rows(data: bytes) -> tuple[list[RideRow], float | None]:
    """
    Read the records of a FIT activity and the device's own total work [kJ], where it wrote one.

    The session's mean power is not read: many devices leave zeros out of it. A file cut short is refused, since its
    checksum is missing. Raises ``FileProblem``.
    """
    rows: list[RideRow] = []
    work_j: list[float] = []
    try:
        # What a developer field means is nothing to us; a wrong checksum is.
        with fitdecode.FitReader(
            data, check_crc=fitdecode.CrcCheck.RAISE, error_handling=fitdecode.ErrorHandling.IGNORE
        ) as reader:
            for frame in reader:
                if not isinstance(frame, fitdecode.FitDataMessage):
                    continue
                if frame.name == "record":
                    rows.append(_row(frame))
                elif frame.name == "session":
                    work_j += [value for value in (_number(frame, "total_work"),) if value is not None]
    except DAMAGED as error:
        raise FileProblem("file", str(error)[:SHOWN_CHARACTERS], "a whole FIT activity file") from error
    return rows, sum(work_j) / J_PER_KJ if work_j else None


def _row(frame: fitdecode.FitDataMessage) -> RideRow:
    at = frame.get_value("timestamp", fallback=None)
    north, east = _number(frame, "position_lat"), _number(frame, "position_long")
    height_m = _number(frame, "enhanced_altitude")
    return RideRow(
        at_unix_s=at.timestamp() if isinstance(at, datetime) else None,
        power_w=_number(frame, "power"),
        travelled_m=_number(frame, "distance"),
        latitude_deg=None if north is None else north * SEMICIRCLE_DEG,
        longitude_deg=None if east is None else east * SEMICIRCLE_DEG,
        elevation_m=_number(frame, "altitude") if height_m is None else height_m,
    )


def _number(frame: fitdecode.FitDataMessage, name: str) -> float | None:
    value = frame.get_value(name, fallback=None)
    return float(value) if isinstance(value, int | float) else None
