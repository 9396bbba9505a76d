"""Verdicts, pure: what is known and what comes in."""

import json

import pytest
from brinebook import clock
from brinebook.records.edited import Member
from brinebook.records.wire import Verdict
from brinebook.storage.repository import KnownEvent, NewEvent
from brinebook.sync import merge
from brinebook.sync.decode import content_sha

RIDER = Member(id="m-rider", name="L", role="rider", rider_id="r1")
SOIGNEUR = Member(id="m-soigneur", name="S", role="soigneur")
PHYSIOLOGIST = Member(id="m-physio", name="P", role="physiologist")


def _raw(kind="drank", body=None, *, by=RIDER, **changes):
    event = {
        "id": clock.new_id(), "kind": kind, "subject_id": "r1", "by": by.id, "device_id": "d", "n": 1, "lamport": 1,
        "at_ms": 1, "body": body if body is not None else {"volume_l": 0.2, "how": "level"},
    }
    return json.dumps({**event, **changes}).encode()


def _read(*arguments, **changes):
    read = merge.read(_raw(*arguments, **changes), received_at_ms=1)
    assert isinstance(read, NewEvent)
    return read


def _judge(new, member=RIDER, **facts):
    known = [fact for fact in facts.values() if isinstance(fact, NewEvent)]
    context = merge.Context(
        member=member, team_id="red", rider_ids=frozenset({"r1", "r2"}),
        facts={fact.event.id: fact.event for fact in known},
        disclosed_as={fact.event.id: fact.disclosed_as for fact in known},
    )
    return merge.judge(new, context)


def test_a_sound_fact_about_oneself_is_kept():
    new = _read()

    assert _judge(new) == new


@pytest.mark.parametrize("raw", [b"{", b"[]", b'{"id": 3}', b'{"id":"x","kind":"drank"}', b"\xff", b"null"])
def test_what_cannot_be_read_is_refused_and_nothing_raises(raw):
    verdict = merge.read(raw, received_at_ms=1)

    assert isinstance(verdict, Verdict)
    assert (verdict.status, verdict.code) == ("rejected", "bad_event")


def test_a_body_nested_without_end_is_refused():
    verdict = merge.read(b'{"id":"x","body":' + b"[" * 100_000 + b"]" * 100_000 + b"}", received_at_ms=1)

    assert isinstance(verdict, Verdict)


def test_a_refusal_names_the_field_and_the_limit():
    verdict = _judge(_read("weighed", {"moment": "before", "mass_kg": 160}))

    assert (verdict.status, verdict.code, verdict.field) == ("rejected", "bad_body", "mass_kg")
    assert "<= 150" in verdict.limit


def test_what_was_typed_in_another_unit_stands_beside_the_books_own():
    mass = {"moment": "after", "mass_kg": 67.404}
    new = _read("weighed", {**mass, "typed": {"mass_kg": {"value": 148.6, "unit": "lb"}}})
    refused = _judge(_read("weighed", {**mass, "typed": {"mass_kg": {"value": 10.6, "unit": "stone"}}}))

    assert _judge(new) == new
    assert (refused.status, refused.code) == ("rejected", "bad_body")


def test_a_missing_field_is_named():
    verdict = _judge(_read("weighed", {"moment": "before"}))

    assert verdict.field == "mass_kg"


def test_a_refusal_never_repeats_the_value():
    verdict = _judge(_read("weighed", {"moment": "before", "mass_kg": 161.25}))

    assert "161" not in json.dumps([verdict.code, verdict.field, verdict.limit])


def test_an_unknown_rider_is_refused():
    assert _judge(_read(subject_id="nobody")).code == "unknown_rider"


def test_nobody_signs_for_somebody_else():
    verdict = _judge(_read(by=SOIGNEUR))

    assert (verdict.code, verdict.field) == ("not_yours", "by")


@pytest.mark.parametrize("kind", ["drank", "a_kind_of_tomorrow"])
def test_a_rider_writes_only_about_himself(kind):
    assert _judge(_read(kind, subject_id="r2")).code == "not_yours"


def test_a_rider_cannot_settle():
    assert _judge(_read("agreed", {"drunk_l": 2.0})).code == "not_yours"


def test_an_unknown_kind_is_kept():
    new = _read("a_kind_of_tomorrow", {"whatever": [1, {"a": 2}]})

    assert _judge(new) == new


def test_a_field_of_a_newer_version_is_kept_in_the_raw_bytes():
    new = _read("drank", {"volume_l": 0.2, "how": "level", "newer": 1}, another=2)

    kept = _judge(new)

    assert json.loads(kept.raw)["another"] == 2
    assert json.loads(kept.raw)["body"]["newer"] == 1


def test_a_correction_of_what_is_not_here_yet_is_to_be_sent_again():
    verdict = _judge(_read("void", {}, ref=clock.new_id()))

    assert (verdict.status, verdict.code) == ("retry", "unknown_ref")


def test_a_correction_of_a_refused_fact_is_refused_and_not_sent_for_ever():
    fact = _read()
    context = merge.Context(
        member=RIDER, team_id="red", rider_ids=frozenset({"r1"}), refused={fact.event.id},
    )

    assert merge.judge(_read("void", {}, ref=fact.event.id), context).code == "ref_rejected"


def test_a_correction_without_a_fact_is_refused():
    assert _judge(_read("void", {})).status == "rejected"


def test_a_correction_is_seen_by_those_who_see_its_fact():
    weighed = _read("weighed", {"moment": "before", "mass_kg": 66}, by=PHYSIOLOGIST)

    amend = _read("amend", {"set": {"mass_kg": 67}}, by=PHYSIOLOGIST, ref=weighed.event.id)

    kept = _judge(amend, PHYSIOLOGIST, a=weighed)

    assert kept.disclosed_as == "weighed"


def test_a_correction_of_a_correction_is_seen_like_the_fact():
    weighed = _read("weighed", {"moment": "before", "mass_kg": 66})
    amend = _judge(_read("amend", {"set": {"mass_kg": 67}}, ref=weighed.event.id), a=weighed)

    kept = _judge(_read("void", {}, ref=amend.event.id), a=weighed, b=amend)

    assert kept.disclosed_as == "weighed"


def test_a_correction_names_the_subject_of_its_fact():
    fact = _read()

    assert _judge(_read("void", {}, ref=fact.event.id, subject_id="r2"), a=fact).code == "wrong_subject"


def test_who_may_not_state_a_fact_may_not_take_it_back():
    agreed = _read("agreed", {"drunk_l": 2.0}, by=PHYSIOLOGIST)

    assert _judge(_read("void", {}, ref=agreed.event.id), a=agreed).code == "not_yours"


def test_an_amend_must_leave_the_fact_possible():
    weighed = _read("weighed", {"moment": "before", "mass_kg": 66})

    verdict = _judge(_read("amend", {"set": {"mass_kg": 660}}, ref=weighed.event.id), a=weighed)

    assert (verdict.code, verdict.field) == ("bad_body", "mass_kg")


def test_a_link_never_joins_facts_with_different_readers():
    drank, weighed = _read(), _read("weighed", {"moment": "before", "mass_kg": 66})
    body = {"a": drank.event.id, "b": weighed.event.id, "keep": drank.event.id}

    assert _judge(_read("link", body), a=drank, b=weighed).code == "not_yours"


def test_only_the_rider_contests():
    fact = _read(by=SOIGNEUR)

    assert isinstance(_judge(_read("contested", {}, ref=fact.event.id), a=fact), NewEvent)
    assert _judge(_read("contested", {}, by=PHYSIOLOGIST, ref=fact.event.id), PHYSIOLOGIST, a=fact).code == "not_yours"


def test_the_same_content_is_a_repetition_and_another_a_conflict():
    new = _read()
    known = KnownEvent(
        id=new.event.id, seq=7, sha=new.sha, kind="drank", subject_id="r1", by=RIDER.id, disclosed_as="drank",
    )

    other = merge.read(new.raw.replace(b"0.2", b"0.3"), received_at_ms=1)

    assert merge.repetition(known, new) == Verdict(id=new.event.id, status="dup", seq=7)
    assert merge.repetition(known, other).status == "conflict"


def test_white_space_and_field_order_do_not_make_another_content():
    assert content_sha(b'{"a":1,"b":[1, 2]}') == content_sha(b'{ "b" : [1,2], "a": 1 }')
    assert content_sha(b'{"a":1}') != content_sha(b'{"a":2}')
