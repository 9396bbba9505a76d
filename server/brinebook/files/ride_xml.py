"""TCX and GPX rides: track points with time, and power where an extension carries one."""

from collections.abc import Iterator
from datetime import UTC, datetime
from xml.etree import ElementTree as ET

from brinebook.files.errors import FileProblem
from brinebook.files.plain_xml import plain_xml
from brinebook.files.ride_rows import RideRow

SHOWN_CHARACTERS = 80
POWER_NAMES = frozenset({"watts", "power", "powerinwatts"})


def read_tcx_rows(data: bytes) -> list[RideRow]:
    """Read the track points of a TCX activity. Raises ``FileProblem``."""
    return [
        _row(power_w=_power_w(point), travelled_m=_number(point, "DistanceMeters"),
             north=_number(point, "LatitudeDegrees"), east=_number(point, "LongitudeDegrees"),
             height=_number(point, "AltitudeMeters"), time=_text(point, "Time"))
        for point in _named(_parsed(data), "Trackpoint")
    ]


def read_gpx_rows(data: bytes) -> list[RideRow]:
    """Read the track points of a GPX ride. Raises ``FileProblem``."""
    return [
        _row(power_w=_power_w(point), travelled_m=None,
             north=_as_number("lat", point.get("lat")), east=_as_number("lon", point.get("lon")),
             height=_number(point, "ele"), time=_text(point, "time"))
        for point in _named(_parsed(data), "trkpt")
    ]


def _row(
    *, power_w: float | None, travelled_m: float | None, north: float | None, east: float | None,
    height: float | None, time: str | None,
) -> RideRow:
    return RideRow(
        at_unix_s=None if time is None else _at_unix_s(time), power_w=power_w, travelled_m=travelled_m,
        latitude_deg=north, longitude_deg=east, elevation_m=height,
    )


def _parsed(data: bytes) -> ET.Element:
    try:
        return ET.fromstring(plain_xml(data))  # noqa: S314 - no document type gets here, so no entity can
    except ET.ParseError as error:
        raise FileProblem("file", str(error)[:SHOWN_CHARACTERS], "well-formed XML") from error


def _local(element: ET.Element) -> str:
    return element.tag.rsplit("}", 1)[-1]


def _named(top: ET.Element, name: str) -> Iterator[ET.Element]:
    return (element for element in top.iter() if _local(element) == name)


def _text(point: ET.Element, name: str) -> str | None:
    found = next(_named(point, name), None)
    return None if found is None or not (found.text or "").strip() else str(found.text).strip()


def _number(point: ET.Element, name: str) -> float | None:
    return _as_number(name, _text(point, name))


def _as_number(name: str, text: str | None) -> float | None:
    if text is None:
        return None
    try:
        return float(text)
    except ValueError as error:
        raise FileProblem(name, text[:SHOWN_CHARACTERS], "a number") from error


def _power_w(point: ET.Element) -> float | None:
    """Look for power under the names the common extensions give it."""
    found = next((one for one in point.iter() if _local(one).lower() in POWER_NAMES and (one.text or "").strip()), None)
    return None if found is None else _as_number(_local(found), str(found.text).strip())


def _at_unix_s(text: str) -> float:
    try:
        at = datetime.fromisoformat(text)
    except ValueError as error:
        raise FileProblem("time", text[:SHOWN_CHARACTERS], "ISO 8601") from error
    # Both formats define their times as UTC; a stray local offset is honoured where one is written.
    return (at if at.tzinfo is not None else at.replace(tzinfo=UTC)).timestamp()
