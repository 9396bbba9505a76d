"""The same planning on the real store: what is written is what the store gives back, once."""

import pytest
from brinebook.planning.recompute import Changed, publish_stage, recompute
from brinebook.records.derived import Settlement, StagePlan
from brinebook.records.edited import Stage, Team
from brinebook.records.facts import Event
from brinebook.storage.repository import NewEvent
from brinebook.storage.sql import open_repository
from msgspec import json
from planning.fakes import TEAM, stages_of, team


@pytest.fixture
def store(tmp_path):
    repository = open_repository(tmp_path)
    yield repository
    repository.close()


def _fill(store, memory):
    store.add_team(Team(id=TEAM, name="Team", race_name="Race"))
    for record in memory.edited_records.values():
        store.put_edited(TEAM, record)
    _add(store, memory.facts)


def _add(store, events: list[Event]):
    store.add_events(TEAM, [
        NewEvent(
            event=event, raw=json.encode(event), sha=f"{event.n:064d}", received_at_ms=event.at_ms,
            disclosed_as=event.kind,
        )
        for event in events
    ])


def test_a_settled_stage_gives_the_same_bytes_on_sqlite_as_in_memory(store):
    memory, facts = team(n_stages=3, n_riders=1)
    facts.ride_a_stage("r1", stages_of(memory)["s1"], before_kg=68.0, after_kg=66.8, agreed_l=2.9)
    _fill(store, memory)
    change = Changed(frozenset({"r1"}), frozenset({"agreed"}), edited_types=frozenset({"stage"}))

    for repository in (store, memory):
        recompute(repository, TEAM, change)

    kept = {one.id: one.body for one in store.documents(TEAM) if one.id in memory.heads}
    assert kept == {id_: one.body for id_, one in memory.heads.items()}
    assert json.decode(kept["settlement:r1:s1"], type=Settlement).state == "settled"


def test_a_second_recompute_gives_phones_nothing_new(store):
    memory, facts = team(n_stages=2, n_riders=1)
    facts.ride_a_stage("r1", stages_of(memory)["s1"], before_kg=68.0, after_kg=66.8, agreed_l=2.9)
    _fill(store, memory)
    change = Changed(frozenset({"r1"}), frozenset({"agreed"}), edited_types=frozenset({"stage"}))
    recompute(store, TEAM, change)
    head = store.document_head(TEAM)

    recompute(store, TEAM, change)

    assert store.document_head(TEAM) == head


def test_publishing_reaches_the_store(store):
    memory, _ = team(n_stages=2, n_riders=1)
    _fill(store, memory)

    assert publish_stage(store, TEAM, "s1") == ["r1"]
    plan = json.decode(store.document(TEAM, "stage_plan:r1:s1").body, type=StagePlan)
    assert (plan.status, len(store.all_edited(TEAM, Stage))) == ("published", 2)


def test_a_settlement_without_facts_leaves_a_tombstone(store):
    memory, facts = team(n_stages=1, n_riders=1)
    at_ms = stages_of(memory)["s1"].start_at_ms
    tap = facts.add("drank", "r1", {"volume_l": 0.2, "how": "level"}, at_ms=at_ms, stage_id="s1")
    _fill(store, memory)
    recompute(store, TEAM, Changed(frozenset({"r1"}), frozenset({"drank"}), frozenset({"s1"})))
    assert store.document(TEAM, "settlement:r1:s1") is not None

    facts.add("void", "r1", {}, at_ms=at_ms + 1, ref=tap)
    _add(store, memory.facts[-1:])
    recompute(store, TEAM, Changed(frozenset({"r1"}), frozenset({"void"})))

    assert store.document(TEAM, "settlement:r1:s1") is None
