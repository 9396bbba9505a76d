"""
Bent input to every reader of uploads and to the exchange's decoders: taken or refused by name, never a crash.

``BRINEBOOK_FUZZ=1000000`` feeds a million; ``BRINEBOOK_FUZZ_SEED`` begins elsewhere.
"""

import gzip
import os

import pytest
from brinebook.api.packed import MAX_UNPACKED_BYTES, unpacked
from brinebook.files.errors import FileProblem
from brinebook.files.gpx import read_gpx
from brinebook.files.ride import read_ride
from brinebook.records.wire import ExchangeRequest
from brinebook.sync.decode import decoded
from brinebook.sync.errors import SyncError
from support import fuzz

N_INPUTS = int(os.environ.get("BRINEBOOK_FUZZ", "12000"))
SEED = int(os.environ.get("BRINEBOOK_FUZZ_SEED", "1"))
GROWTH_MB = 200.0
LAUGHS = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10 if n else "ha"}">' for n in range(10))
DOCTYPES = {
    "billion laughs": f"<!DOCTYPE gpx [{LAUGHS}]>",
    "foreign file": '<!DOCTYPE gpx [<!ENTITY l9 SYSTEM "file:///etc/passwd">]>',
    "foreign address": '<!DOCTYPE gpx SYSTEM "http://127.0.0.1:9/x.dtd">',
}
BODIES = {
    "gpx": '<gpx version="1.1"><trk><name>{}</name><trkseg>' + "".join(
        f'<trkpt lat="45.{n}" lon="6"><ele>1</ele><time>2026-07-04T12:0{n}:00Z</time></trkpt>' for n in range(3)
    ) + "</trkseg></trk></gpx>",
    "tcx": "<TrainingCenterDatabase><Id>{}</Id>" + "".join(
        f"<Trackpoint><Time>2026-07-04T12:0{n}:00Z</Time><DistanceMeters>{n}</DistanceMeters></Trackpoint>"
        for n in range(3)
    ) + "</TrainingCenterDatabase>",
}
HIDDEN_MARK = b"TrainingCenterDatabase<gpx " + b" "


def test_bent_input_is_taken_or_refused_by_name_in_time_and_in_memory():
    tally = fuzz.run(SEED, N_INPUTS)
    print(f"{sum(tally.n_inputs.values())} inputs {tally.n_inputs}, taken {tally.n_taken}, "
          f"slowest {tally.slowest_s * 1000:.0f} ms, memory +{tally.peak_growth_mb:.0f} MB")

    assert tally.crashes == [], tally.crashes[:5]
    assert set(tally.n_inputs) == set(fuzz.TARGETS)
    assert set(tally.n_taken) == set(fuzz.TARGETS), "some bent inputs are still good, or the readers are never reached"
    assert tally.slowest_s < fuzz.HANG_S
    assert tally.peak_growth_mb < GROWTH_MB


def test_a_reader_that_crashes_is_seen(monkeypatch):
    monkeypatch.setitem(fuzz.TARGETS, "event", (lambda raw: raw.index(b"weighed"), fuzz.TARGETS["event"][1], 30))

    assert {name for name, *_ in fuzz.run(1, 2000).crashes} == {"event"}


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
@pytest.mark.parametrize("kind", sorted(BODIES))
@pytest.mark.parametrize("attack", sorted(DOCTYPES))
def test_a_document_type_opens_no_file_no_address_and_grows_into_nothing(attack, kind, encoding):
    text = f'<?xml version="1.0" encoding="{encoding}"?>{DOCTYPES[attack]}' + BODIES[kind].format("&l9;")
    # In UTF-16 a comment of other letters can look like the mark a file is known by.
    hidden = "" if encoding == "utf-8" else f"<!--{HIDDEN_MARK.decode('utf-16-le', errors='replace')}-->"
    data = text.replace("?>", f"?>{hidden}", 1).encode(encoding)

    for read in (read_ride, read_gpx):
        with pytest.raises(FileProblem) as refused:
            read(data)
        assert {refused.value.limit} <= {
            "XML without a document type", "text in UTF-8", "a ride in FIT, TCX or GPX",
            "a well-formed GPX file with numbers in lat, lon and ele",
        }


@pytest.mark.parametrize(("read", "kind"), [(read_ride, "gpx"), (read_ride, "tcx"), (read_gpx, "gpx")])
def test_the_same_files_without_a_document_type_are_taken(read, kind):
    assert read(BODIES[kind].format("x").encode())


def test_a_gzip_bomb_is_put_down_at_the_limit():
    bomb = gzip.compress(b"0" * 200 * MAX_UNPACKED_BYTES)

    with pytest.raises(SyncError):
        unpacked(bomb, "gzip")
    assert len(bomb) < MAX_UNPACKED_BYTES


@pytest.mark.parametrize("depth", [100, 100_000])
def test_nests_without_end_are_refused(depth):
    nested = b"[" * depth + b"]" * depth
    with pytest.raises(SyncError):
        decoded(b'{"protocol":2,"device_id":"d","events":' + nested + b',"limit":"x"}', ExchangeRequest)
    with pytest.raises(FileProblem):
        read_ride(b"<gpx>" + b"<a>" * depth + b"</a>" * depth + b"</gpx>")
