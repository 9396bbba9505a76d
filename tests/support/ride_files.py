"""Ride files made in memory: a FIT activity byte by byte from the public protocol, and TCX and GPX as text."""

import struct
from datetime import UTC, datetime

FIT_EPOCH_UNIX_S = 631_065_600
CRC_TABLE = (0x0000, 0xCC01, 0xD801, 0x1400, 0xF001, 0x3C00, 0x2800, 0xE401,
             0xA001, 0x6C00, 0x7800, 0xB401, 0x5000, 0x9C01, 0x8801, 0x4400)
# Field number, size, base type and struct letter with the value that stands for nothing.
RECORD = ((253, 4, 0x86, "I"), (0, 4, 0x85, "i"), (1, 4, 0x85, "i"), (5, 4, 0x86, "I"), (78, 4, 0x86, "I"),
          (7, 2, 0x84, "H"))
SESSION = ((253, 4, 0x86, "I"), (48, 4, 0x86, "I"), (20, 2, 0x84, "H"))
NOTHING = {"I": 0xFFFFFFFF, "i": 0x7FFFFFFF, "H": 0xFFFF}


def _crc(data: bytes) -> int:
    crc = 0
    for byte in data:
        for nibble in (byte & 0xF, byte >> 4):
            crc = (crc >> 4) & 0x0FFF ^ CRC_TABLE[crc & 0xF] ^ CRC_TABLE[nibble]
    return crc


def _definition(local: int, message: int, fields) -> bytes:
    head = struct.pack("<BBBHB", 0x40 | local, 0, 0, message, len(fields))
    return head + b"".join(bytes((number, size, base)) for number, size, base, _ in fields)


def _message(local: int, fields, values) -> bytes:
    packed = [NOTHING[letter] if value is None else value for (*_, letter), value in zip(fields, values, strict=True)]
    return bytes((local,)) + struct.pack("<" + "".join(letter for *_, letter in fields), *packed)


def fit_file(rows, *, total_work_j=None, avg_power_w=None) -> bytes:
    """Write a FIT activity; a row is (unix s, power W, distance m, latitude, longitude, elevation m), None for none."""
    body = _definition(0, 20, RECORD) + _definition(1, 18, SESSION)
    for at_s, power, distance, north, east, height in rows:
        body += _message(0, RECORD, (
            round(at_s) - FIT_EPOCH_UNIX_S,
            None if north is None else round(north * 2**31 / 180.0),
            None if east is None else round(east * 2**31 / 180.0),
            None if distance is None else round(distance * 100),
            None if height is None else round((height + 500) * 5),
            power,
        ))
    if rows:
        body += _message(1, SESSION, (round(rows[-1][0]) - FIT_EPOCH_UNIX_S, total_work_j, avg_power_w))
    head = struct.pack("<BBHI4s", 14, 0x20, 2132, len(body), b".FIT")
    head += struct.pack("<H", _crc(head))
    return head + body + struct.pack("<H", _crc(head + body))


def _time(at_s) -> str:
    return datetime.fromtimestamp(at_s, UTC).isoformat().replace("+00:00", "Z")


def tcx_file(rows) -> bytes:
    """Write a TCX activity of the same rows."""
    points = []
    for at_s, power, distance, north, east, height in rows:
        place = "" if north is None else (
            f"<Position><LatitudeDegrees>{north}</LatitudeDegrees><LongitudeDegrees>{east}</LongitudeDegrees></Position>"
        )
        watts = "" if power is None else f"<Extensions><n3:TPX><n3:Watts>{power}</n3:Watts></n3:TPX></Extensions>"
        points.append(
            f"<Trackpoint><Time>{_time(at_s)}</Time>{place}"
            + ("" if height is None else f"<AltitudeMeters>{height}</AltitudeMeters>")
            + ("" if distance is None else f"<DistanceMeters>{distance}</DistanceMeters>") + watts + "</Trackpoint>"
        )
    return (
        '<?xml version="1.0" encoding="UTF-8"?><TrainingCenterDatabase '
        'xmlns="http://www.garmin.com/xmlschemas/TrainingCenterDatabase/v2" '
        'xmlns:n3="http://www.garmin.com/xmlschemas/ActivityExtension/v2"><Activities><Activity Sport="Biking">'
        f'<Lap><Track>{"".join(points)}</Track></Lap></Activity></Activities></TrainingCenterDatabase>'
    ).encode()


def gpx_ride(rows) -> bytes:
    """Write a GPX ride of the same rows; GPX has no distance of its own."""
    points = "".join(
        f'<trkpt lat="{north}" lon="{east}"><ele>{height}</ele><time>{_time(at_s)}</time>'
        + ("" if power is None else f"<extensions><power>{power}</power></extensions>") + "</trkpt>"
        for at_s, power, _, north, east, height in rows
    )
    return (f'<?xml version="1.0"?><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
            f"{points}</trkseg></trk></gpx>").encode()
