"""A simulated device loses nothing and doubles nothing, however badly it is answered."""

import httpx
import pytest

from seed_demo.devices import BATCH, Device, PlayProblem


class FakeServer:
    """Keeps facts by id; can drop answers, or leave a fact without a verdict."""

    def __init__(self):
        self.kept: dict[str, dict] = {}
        self.n_calls = 0
        self.drops: set[int] = set()
        self.is_silent = False

    def call(self, method, path, *, json):
        assert (method, path) == ("POST", "/api/exchange")
        self.n_calls += 1
        verdicts = []
        for event in json["events"]:
            status = "dup" if event["id"] in self.kept else "ok"
            self.kept.setdefault(event["id"], event)
            verdicts.append({"id": event["id"], "status": status})
        if self.n_calls in self.drops:
            raise httpx.ReadError("the answer got lost")
        events = [[seq, event] for seq, event in enumerate(self.kept.values(), start=1)]
        return {
            "verdicts": [] if self.is_silent else verdicts, "events": events, "documents": [], "cursor": "c",
            "more": False,
        }


@pytest.fixture
def device():
    joined = {"token": "t", "member": {"id": "m-1"}, "device_id": "dev-1", "team": {"id": "team-1"}}
    made = Device("http://localhost:1", joined, seed="test")
    made.api.close()
    made.api = FakeServer()
    return made


def _drink(device, n):
    for step in range(n):
        device.fact("drank", "r-1", {"volume_l": 0.5, "how": "count"}, at_ms=1_780_000_000_000 + step)


def test_facts_go_out_in_batches_and_leave_the_outbox_once_answered(device):
    _drink(device, BATCH * 2 + 1)
    device.exchange()

    assert device.api.n_calls == 3
    assert device.outbox == []
    assert list(device.api.kept) == device.made_ids


def test_a_lost_reply_sends_the_same_ids_again(device):
    _drink(device, 3)
    device.lose_next_reply()
    device.exchange()

    assert device.api.n_calls == 2
    assert device.tally.verdicts == {"dup": 3}
    assert len(device.api.kept) == device.tally.n_made == 3


def test_a_broken_connection_is_tried_again(device):
    _drink(device, 2)
    device.api.drops = {1, 2}
    device.exchange()

    assert device.api.n_calls == 3
    assert len(device.api.kept) == 2
    assert device.outbox == []


def test_a_fact_without_a_verdict_stays_in_the_outbox(device):
    _drink(device, 1)
    device.api.is_silent = True

    with pytest.raises(PlayProblem, match="no verdict"):
        device.exchange()
    assert len(device.outbox) == 1


def test_numbers_rise_by_one_and_the_clock_outruns_what_was_seen(device):
    _drink(device, 2)
    device.exchange()
    seen = dict(device.outbox[0]) if device.outbox else {**device.events[device.made_ids[0]][1], "device_id": "dev-2"}
    device.api.kept["x"] = {**seen, "id": "x", "lamport": 40}
    device.exchange()
    later = device.fact("drank", "r-1", {"volume_l": 0.5, "how": "count"}, at_ms=1_780_000_100_000)

    assert [event["n"] for _, event in device.events.values() if event["device_id"] == "dev-1"] == [1, 2]
    assert later["n"] == 3
    assert later["lamport"] == 41
