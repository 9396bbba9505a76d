"""Made-up bad input: what real files look like, bent, cut, doubled, stuffed; the same again for the same seed."""

import gzip
import json
import random
import resource
import signal
import struct
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import msgspec
from brinebook.api.packed import unpacked
from brinebook.files.errors import FileProblem
from brinebook.files.forecast_table import read_forecast
from brinebook.files.gpx import read_gpx
from brinebook.files.imports import READERS, read_table
from brinebook.files.profile_table import read_profile
from brinebook.files.ride import read_ride
from brinebook.records.facts import BODY_BY_KIND
from brinebook.records.wire import ExchangeRequest
from brinebook.sync import cursor, merge
from brinebook.sync.decode import decoded
from brinebook.sync.errors import SyncError
from support.ride_files import _crc, fit_file, gpx_ride, tcx_file

HANG_S = 2
STUFFING = (
    b"\x00", b"\xff", b"\xff\xfe", b"\xef\xbb\xbf", b"<!DOCTYPE x [<!ENTITY a 'b'>]>", b"&a;", b"nan", b"-inf",
    b"1e999", b"9" * 400, b"-1", b'"', b"'", b",", b";", b"\t", b"\r", b"\n", b"]]>", b"<![CDATA[", b"</trkpt>", b"{",
    b"[" * 200, b"null", b"true", b"\\ud800", b"=1+1", b"2026-13-45T99:99:99Z", b"\xf0\x9f\x92\xa7", b"%s%n", b"../../",
    b"0x1p-1074",
)
BITS = tuple(1 << place for place in range(8))
EDGES = (0, -1, 2**31 - 1, 2**63 - 1, -(2**63))
ROWS = [(1_790_000_000 + n * 30, 200 + n, n * 250.0, 45.0 + n / 500, 6.0, 300.0 + n) for n in range(12)]


@dataclass
class Tally:
    """What a run met; ``crashes`` holds target, error and input."""

    n_inputs: dict[str, int] = field(default_factory=dict)
    n_taken: dict[str, int] = field(default_factory=dict)
    slowest_s: float = 0.0
    crashes: list[tuple[str, str, bytes]] = field(default_factory=list)
    peak_growth_mb: float = 0.0


def _event() -> bytes:
    return json.dumps({
        "id": "01890000-0000-7000-8000-000000000001", "kind": "weighed", "subject_id": "r1", "by": "m",
        "device_id": "d", "n": 1, "lamport": 1, "at_ms": 1_790_000_000_000, "stage_id": "s1",
        "body": {"moment": "before", "mass_kg": 66.5},
    }).encode()


def _read_event(raw: bytes) -> None:
    outcome = merge.read(raw, received_at_ms=1)
    if isinstance(outcome, merge.NewEvent):
        merge.refs(outcome.event)
        kind = BODY_BY_KIND.get(outcome.event.kind)
        if kind is not None:
            decoded(outcome.event.body, kind)


def _text(read: Callable[[str], object]) -> Callable[[bytes], object]:
    return lambda raw: read(raw.decode("utf-8-sig", errors="replace"))


REQUEST = b'{"protocol":2,"device_id":"d","cursor":null,"events":[' + _event() + b'],"limit":500}'
HOURS = "".join(f"2026-07-04T{hour}:00+02:00,24,50,2,20\n" for hour in (12, 13))
FORECAST = f"time,temp_c,rh_pct,wind_ms,cloud_pct\n{HOURS}".encode()
CURSOR = b"WyJlIixbInQiLCJyaWRlciIsIm0iLCJyIl0sMSwyLDMsbnVsbF0="
TABLES = {
    "roster": b"number,name,mass_kg,height_m,age_years,sex\n41,A B,66.5,1.80,27,m\n",
    "weigh-ins": b"number,stage,moment,mass_kg\n41,1,before,66.5\n",
    "drinks": b"name,short_name,sodium_mg_per_l\nSalt,S,900\n",
}
TARGETS: dict[str, tuple[Callable[[bytes], object], list[bytes], int]] = {
    "exchange": (lambda raw: decoded(raw, ExchangeRequest), [REQUEST], 30),
    "event": (_read_event, [_event()], 30),
    "cursor": (lambda raw: cursor.read(raw.decode("latin-1")), [CURSOR], 10),
    "gzip": (lambda raw: unpacked(raw, "gzip"), [gzip.compress(REQUEST)], 6),
    "forecast": (_text(lambda text: read_forecast(text, time_zone="Europe/Paris")), [FORECAST], 8),
    "profile": (_text(lambda text: read_profile(text, latitude_deg=45.0, longitude_deg=6.0)),
                [b"km,elev_m\n0,300\n40,900\n120,200\n"], 4),
    "fit": (read_ride, [fit_file(ROWS, total_work_j=500_000)], 4),
    "tcx": (read_ride, [tcx_file(ROWS)], 4),
    "gpx ride": (read_ride, [gpx_ride(ROWS)], 4),
    "gpx course": (read_gpx, [gpx_ride(ROWS[:6])], 2),
    **{what: (_text(lambda text, what=what: read_table(what, text)), [TABLES[what]], 4) for what in READERS},
}
"""What is fed, what it looks like when it is good, and how large its share of the inputs is."""
REFUSALS = (FileProblem, SyncError, msgspec.ValidationError)


Bend = Callable[[random.Random, bytes, int], bytes]
BENDS: tuple[Bend, ...] = (
    lambda chance, data, at: data[:at] + bytes((chance.randrange(256),)) + data[at + 1:],
    lambda chance, data, at: data[:at] + data[at + chance.choice((1, 2, 8, 64)):],
    lambda chance, data, at: data[:at] + chance.choice(STUFFING) + data[at:],
    lambda chance, data, at: data[:at] + data[at:at + chance.randrange(1, 40)] * chance.choice((1, 2, 20)) + data[at:],
    lambda _, data, at: data[:at],
    lambda chance, data, at: data[:at] + bytes(one ^ chance.choice(BITS) for one in data[at:at + 1]) + data[at + 1:],
    lambda chance, data, at: data[:at] + chance.randbytes(chance.choice((1, 4, 16))) + data[at:],
    lambda chance, data, at: data[:at] + struct.pack("<q", chance.choice(EDGES)) + data[at + 8:],
)


def _bent(chance: random.Random, seeds: list[bytes]) -> bytes:
    data = chance.choice(seeds)
    for _ in range(chance.choice((1, 1, 2, 3, 8))):
        data = chance.choice(BENDS)(chance, data, chance.randrange(len(data) + 1))
    return data


def _signed(chance: random.Random, data: bytes) -> bytes:
    """Give half of the bent FIT files the checksum of what they now say, or only the checksum would be tested."""
    return data[:-2] + struct.pack("<H", _crc(data[:-2])) if chance.random() < 0.5 else data


def inputs(seed: int, n_inputs: int) -> Iterator[tuple[str, bytes]]:
    """Yield so many inputs, each with its target, the same for the same seed."""
    chance = random.Random(seed)  # noqa: S311 the same again is what is wanted
    names = list(TARGETS)
    shares = [TARGETS[name][2] for name in names]
    for name in chance.choices(names, shares, k=n_inputs):
        data = _bent(chance, TARGETS[name][1])
        yield name, _signed(chance, data) if name == "fit" else data


def _too_long(*_: object) -> None:
    raise TimeoutError


def run(seed: int, n_inputs: int) -> Tally:
    """Feed so many inputs; whatever is neither taken nor refused by name is a crash, and so is a hang."""
    tally = Tally()
    before_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    old = signal.signal(signal.SIGVTALRM, _too_long)
    try:
        for name, data in inputs(seed, n_inputs):
            tally.n_inputs[name] = tally.n_inputs.get(name, 0) + 1
            began_s = time.thread_time()
            signal.setitimer(signal.ITIMER_VIRTUAL, HANG_S)
            try:
                TARGETS[name][0](data)
                tally.n_taken[name] = tally.n_taken.get(name, 0) + 1
            except REFUSALS:
                pass
            except Exception as problem:  # noqa: BLE001 whatever else comes out is what is looked for
                tally.crashes.append((name, f"{type(problem).__name__}: {problem}"[:200], data))
            finally:
                signal.setitimer(signal.ITIMER_VIRTUAL, 0)
            tally.slowest_s = max(tally.slowest_s, time.thread_time() - began_s)
    finally:
        signal.signal(signal.SIGVTALRM, old)
    tally.peak_growth_mb = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before_kb) / 1024.0
    return tally
