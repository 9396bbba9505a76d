"""Facts fold to the same state whatever their order; the vectors are shared with the phone's own fold."""

import json
from pathlib import Path

import msgspec
import pytest
from brinebook.planning.fold import fold
from brinebook.records.facts import Event
from hypothesis import given, settings
from hypothesis import strategies as st

VECTORS = json.loads((Path(__file__).parents[1] / "sync" / "fold_vectors.json").read_text(encoding="utf-8"))


def _events(vector):
    return [msgspec.json.decode(json.dumps(event), type=Event) for event in vector["events"]]


def _plain(folded):
    return {key: json.loads(bytes(event.body)) for key, event in folded.live.items()}, sorted(folded.ignored)


@pytest.mark.parametrize("vector", VECTORS, ids=lambda vector: vector["name"])
def test_the_fold_gives_the_expected_state(vector):
    live, ignored = _plain(fold(_events(vector)))

    assert live == vector["expected"]
    assert ignored == sorted(vector["ignored"])


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_order_and_repetition_do_not_matter(data):
    events = _events(data.draw(st.sampled_from(VECTORS)))
    mixed = data.draw(st.permutations(events + events[:2]))

    assert _plain(fold(mixed)) == _plain(fold(events))


def test_live_facts_come_in_id_order():
    events = [event for vector in VECTORS[:1] for event in _events(vector)]

    assert list(fold(reversed(events)).live) == sorted(event.id for event in events)
