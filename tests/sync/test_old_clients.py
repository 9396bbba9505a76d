"""What released apps left on phones is taken by today's server: each golden dump is pushed, kept and folds."""

import json
from pathlib import Path

import msgspec
import pytest
from brinebook.planning.fold import fold
from brinebook.records.facts import Event

FOLDER = Path(__file__).resolve().parents[1] / "pwa" / "golden"
DUMPS = sorted(FOLDER.glob("client_*.json"))
ONCE = {"client_v1.json": 7203}
"""A released dump never changes; its size in bytes is a cheap seal."""


@pytest.mark.parametrize("path", DUMPS, ids=lambda path: path.stem)
def test_a_released_dump_is_pushed_kept_and_folded(path, world):
    phone = world.join("red", "rider", "r1")
    text = path.read_text(encoding="utf-8").replace('"m1"', json.dumps(phone.member["id"]))
    dump = json.loads(text)
    authored = [row["event"] for row in dump["stores"]["authored"]]
    request = {**dump["last_request"], "events": [*authored, *dump["stores"]["outbox"]]}

    reply = phone.post("/api/exchange", request).json()

    kept = {event["id"] for event in request["events"]}
    assert {verdict["id"]: verdict["status"] for verdict in reply["verdicts"]} == dict.fromkeys(kept, "ok")
    assert reply["protocol"] == dump["last_request"]["protocol"]
    pulled = [msgspec.json.decode(json.dumps(event), type=Event) for _, event in reply["events"]]
    volumes = sorted(json.loads(bytes(event.body))["volume_l"] for event in fold(pulled).live.values())
    assert volumes == [0.125, 0.5]


@pytest.mark.parametrize("path", DUMPS, ids=lambda path: path.stem)
def test_a_released_dump_is_the_one_that_was_released(path):
    assert path.stat().st_size == ONCE[path.name]
