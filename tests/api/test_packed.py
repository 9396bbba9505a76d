"""Packed exchanges: as good as plain ones, and no way to fill the server's memory."""

import gzip
import json
import tracemalloc
import zlib

import pytest
from brinebook.api.packed import MAX_UNPACKED_BYTES, unpacked
from brinebook.sync.errors import TooLarge
from support.world import Phone

LEVEL = {"volume_l": 0.25, "how": "level"}
GZIP = {"Content-Encoding": "gzip"}


def _posted(phone: Phone, content: bytes, **headers: str):
    return phone.http.post("/api/exchange", headers={**phone.headers, **headers}, content=content)


def _request(phone: Phone, *facts: dict) -> bytes:
    return json.dumps({"protocol": 3, "device_id": phone.device_id, "events": list(facts)}).encode()


def test_a_packed_push_is_taken_like_a_plain_one(world):
    rider = world.join("red", "rider", "r1")
    facts = [rider.fact("drank", "r1", LEVEL) for _ in range(50)]
    plain = _request(rider, *facts)
    packed = gzip.compress(plain)

    first, second = _posted(rider, packed, **GZIP), _posted(rider, plain)

    print(f"50 facts: {len(plain)} bytes, packed {len(packed)}")
    assert [one["status"] for one in first.json()["verdicts"]] == ["ok"] * 50
    assert [one["status"] for one in second.json()["verdicts"]] == ["dup"] * 50
    assert len(packed) < len(plain) / 4


@pytest.mark.parametrize("inner", [b"0", b" ", b"[]"])
def test_a_bomb_is_put_down_at_the_limit_and_nothing_is_kept(world, inner):
    rider = world.join("red", "rider", "r1")
    bomb = gzip.compress(inner * (200 * MAX_UNPACKED_BYTES // len(inner)), compresslevel=9)

    tracemalloc.start()
    with pytest.raises(TooLarge):
        unpacked(bomb, "gzip")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    answer = _posted(rider, bomb, **GZIP)

    assert peak < 4 * MAX_UNPACKED_BYTES
    assert (answer.status_code, answer.json()["code"], answer.json()["field"]) == (413, "too_large", "body")
    assert str(MAX_UNPACKED_BYTES) in answer.json()["limit"]
    assert world.repository.head("red") == 0


def test_the_limit_is_exact():
    assert len(unpacked(gzip.compress(b" " * MAX_UNPACKED_BYTES), "gzip")) == MAX_UNPACKED_BYTES
    with pytest.raises(TooLarge):
        unpacked(gzip.compress(b" " * (MAX_UNPACKED_BYTES + 1)), "gzip")


@pytest.mark.parametrize(("change", "encoding", "field"), [
    (lambda packed: packed[:-5], "gzip", "body"),
    (lambda packed: packed + packed, "gzip", "body"),
    (lambda packed: packed[:20] + b"xx" + packed[22:], "gzip", "body"),
    (lambda _: b"no gzip at all", "gzip", "body"),
    (zlib.compress, "deflate", "Content-Encoding"),
    (lambda packed: packed, "br, gzip", "Content-Encoding"),
])
def test_what_cannot_be_unpacked_is_refused_by_name_and_nothing_is_kept(world, change, encoding, field):
    rider = world.join("red", "rider", "r1")
    packed = gzip.compress(_request(rider, rider.fact("drank", "r1", LEVEL)))

    answer = _posted(rider, change(packed), **{"Content-Encoding": encoding})

    assert (answer.status_code, answer.json()["code"], answer.json()["field"]) == (400, "bad_record", field)
    assert world.repository.head("red") == 0
