"""Requests of protocol 1, as the first release sent them, are pushed, pulled and folded for ever."""

import hashlib
import json
from pathlib import Path

import msgspec
import pytest
from brinebook.planning.fold import fold
from brinebook.records.facts import BODY_BY_KIND, Event
from brinebook.storage.ledger import Erasure
from brinebook.sync.erase import erase_subject

PATH = Path(__file__).parent / "golden" / "protocol_1.json"
SEAL = "b0ae37dd88ec9d69"
"""What was released does not change: begins the sha256 of the file."""
KNOWN_THEN = {
    "protocol", "epoch", "now_ms", "head", "verdicts", "events", "documents", "cursor", "more", "reset", "digest",
}
NEEDED_THEN = KNOWN_THEN - {"reset", "digest"}
VERDICT_THEN = {"id", "status", "seq", "code", "field", "limit"}
KINDS_THEN = {
    "drank", "handed_up", "came_back", "poured", "lost", "ate", "weighed", "morning_check", "sweat_sample",
    "weighed_ride", "mix_check", "symptom", "note", "amend", "void", "link", "unlink", "agreed", "reopened",
    "contested",
}


@pytest.fixture
def played(world):
    """All of the requests sent, each by a device of its role; the phones and the replies."""
    phones = {"rider": world.join("red", "rider", "r1"), "physiologist": world.join("red", "physiologist")}
    text = PATH.read_text(encoding="utf-8")
    for role, phone in phones.items():
        text = text.replace(f'"@{role}"', json.dumps(phone.member["id"]))
    golden = json.loads(text)
    replies = [phones[step["by"]].post("/api/exchange", step["request"]).json() for step in golden["steps"]]
    return world, golden, phones, replies


def test_the_requests_are_those_that_were_released():
    golden = json.loads(PATH.read_text(encoding="utf-8"))
    kinds = {event["kind"] for step in golden["steps"] for event in step["request"]["events"]}

    assert hashlib.sha256(PATH.read_bytes()).hexdigest().startswith(SEAL)
    assert kinds >= KINDS_THEN
    assert set(BODY_BY_KIND) >= KINDS_THEN


def test_every_request_gets_the_verdicts_it_got_then(played):
    _, golden, _, replies = played

    for step, reply in zip(golden["steps"], replies, strict=True):
        given = {verdict["id"]: verdict["status"] for verdict in reply["verdicts"]}
        wanted = [event["id"] for event in step["request"]["events"]]
        assert [given[id_] for id_ in wanted] == step["statuses"]


def test_every_reply_says_what_a_client_of_then_reads_and_nothing_it_must_act_on_but_cannot_know(played):
    _, _, _, replies = played

    for reply in replies:
        assert reply["protocol"] == 1
        assert set(reply) >= NEEDED_THEN
        assert set(reply) <= KNOWN_THEN
        assert all(set(verdict) <= VERDICT_THEN for verdict in reply["verdicts"])
        assert all(isinstance(seq, int) and isinstance(event, dict) for seq, event in reply["events"])


def test_what_was_sent_then_is_pulled_and_folds_today(played):
    _, golden, phones, _ = played
    rider = phones["rider"]
    rider.exchange()

    live = fold(msgspec.json.decode(json.dumps(event), type=Event) for event in rider.events.values()).live
    drunk_l = {id_: json.loads(bytes(one.body))["volume_l"] for id_, one in live.items() if one.kind == "drank"}
    assert drunk_l == golden["drunk_l"]
    assert not set(golden["refused_and_gone"]) & set(live)
    assert rider.last["digest"][0] == len(rider.events)


def test_a_client_of_then_is_reset_where_it_could_not_follow(played):
    world, _, _, _ = played
    old = world.join("red", "car")
    old.exchange()
    erase_subject(world.repository, Erasure(team_id="red", subject_id="r2", erased_at_ms=1_790_000_000_000))

    reply = old.request(cursor=old.cursor).json()

    assert reply["reset"] is True
    assert "drop" not in reply
