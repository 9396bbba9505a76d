"""A person's eyes change: what is gone is forgotten, what is new comes down, the rest is left in peace."""

import hashlib

import msgspec
import pytest

LEVEL = {"volume_l": 0.25, "how": "level"}
WEIGHED = {"moment": "before", "mass_kg": 66}


def digest_of(events):
    xor64 = 0
    for id_ in events:
        xor64 ^= int.from_bytes(hashlib.sha256(id_.encode()).digest()[:8], "big")
    return [len(events), f"{xor64:016x}"]


def _become(world, phone, **changes) -> None:
    member = world.repository.member("red", phone.member["id"])
    world.repository.put_member("red", msgspec.structs.replace(member, **changes))


def _visible(phone):
    return set(phone.events), {id_ for id_, one in phone.documents.items() if one.get("body") is not None}


@pytest.fixture
def filled(world):
    """Facts and documents of both riders, and one phone of each protocol that has read them."""
    physiologist = world.join("red", "physiologist")
    physiologist.exchange(*[
        physiologist.fact(kind, rider_id, body)
        for rider_id in ("r1", "r2") for kind, body in (("drank", LEVEL), ("weighed", WEIGHED))
    ])
    return world


@pytest.mark.parametrize("protocol", [1, 2])
@pytest.mark.parametrize(("before", "after"), [
    (("car", None), ("physiologist", None)), (("physiologist", None), ("car", None)),
    (("doctor", None), ("coach", None)), (("rider", "r1"), ("rider", "r2")), (("rider", "r1"), ("physiologist", None)),
    (("admin", None), ("rider", "r2")),
])
def test_after_a_change_a_phone_holds_what_a_new_one_would(filled, protocol, before, after):
    phone = filled.join("red", before[0], before[1])
    phone.protocol = protocol
    phone.exchange()
    _become(filled, phone, role=after[0], rider_id=after[1])
    phone.exchange(limit=1)
    held = _visible(phone)

    phone.cursor, phone.events, phone.documents = None, {}, {}
    phone.exchange()

    assert held == _visible(phone)
    assert phone.last["digest"] == digest_of(phone.events)


def test_what_did_not_change_is_not_sent_again(filled):
    phone = filled.join("red", "rider", "r1")
    phone.protocol = 2
    phone.exchange()
    car = filled.join("red", "car")
    car.protocol = 2
    car.exchange()
    _become(filled, car, role="soigneur")

    car.exchange()

    assert "reset" not in car.last
    assert "drop" not in car.last
    assert car.last["events"] == []


def test_a_narrowed_phone_is_told_whom_to_forget_at_once(filled):
    phone = filled.join("red", "physiologist")
    phone.protocol = 2
    phone.exchange()
    _become(filled, phone, role="rider", rider_id="r1")

    reply = phone.request(cursor=phone.cursor).json()

    assert "r2" in reply["drop"]
    assert "reset" not in reply
    assert not [one for one in reply["documents"] if one["subject_id"] == "r2"]


def test_a_lost_reply_in_the_middle_of_a_change_loses_nothing(filled):
    phone = filled.join("red", "car")
    phone.protocol = 2
    phone.exchange()
    _become(filled, phone, role="physiologist")
    phone.request(cursor=phone.cursor, limit=1)
    first = phone.request(cursor=phone.cursor, limit=1).json()
    phone.request(cursor=first["cursor"], limit=1)
    phone._forget(first)
    phone.events |= {event["id"]: event for _, event in first["events"]}
    phone.documents |= {one["id"]: one for one in first["documents"]}
    phone.cursor = first["cursor"]

    phone.exchange(limit=1)

    assert phone.last["digest"] == digest_of(phone.events)
    assert {event["kind"] for event in phone.events.values()} == {"drank", "weighed"}


def test_a_second_change_during_the_first_starts_afresh(filled):
    phone = filled.join("red", "car")
    phone.protocol = 2
    phone.exchange()
    _become(filled, phone, role="physiologist")
    first = phone.request(cursor=phone.cursor, limit=1).json()
    _become(filled, phone, role="rider", rider_id="r2")

    second = phone.request(cursor=first["cursor"], limit=1).json()

    assert second["reset"] is True
