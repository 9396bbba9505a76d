"""Before the facts of a settled stage go by age its totals are kept; erasing takes them, restoring brings them back."""

import msgspec
from brinebook import clock
from brinebook.__main__ import main
from brinebook.access import retention
from brinebook.access.disclosure import may_read_document, sort_of_document
from brinebook.planning.recompute import Changed, recompute
from brinebook.records.derived import Settlement
from brinebook.records.edited import Member, Team
from brinebook.records.facts import BODY_BY_KIND, Event
from brinebook.records.kept import StageTotal
from brinebook.storage.backup import backup
from brinebook.storage.ledger import Erasure
from brinebook.storage.repository import NewEvent
from brinebook.storage.sql import open_repository
from brinebook.sync import keeping
from brinebook.sync.erase import erase_subject
from brinebook.sync.restore import restore
from planning.fakes import TEAM, stages_of, team

NOW_MS = clock.now_ms()
EVERYTHING = Changed(frozenset({"r1", "r2"}), frozenset(BODY_BY_KIND), edited_types=frozenset({"stage"}))


def _kept(repository, facts: list[Event], months: float) -> None:
    repository.add_events(TEAM, [
        NewEvent(event=event, raw=msgspec.json.encode(event), sha=f"{event.n:064d}", disclosed_as=event.kind,
                 received_at_ms=retention.before_ms(months, NOW_MS))
        for event in facts
    ])


def _ridden(place):
    """A team whose first stage was ridden and settled 25 months ago, and whose second a month ago."""
    repository, (memory, facts) = open_repository(*place), team(n_stages=3, n_riders=2)
    stages = stages_of(memory)
    facts.ride_a_stage("r1", stages["s1"], before_kg=68.0, after_kg=66.8, agreed_l=2.9)
    facts.add("drank", "r2", {"volume_l": 0.4, "how": "level"}, at_ms=stages["s1"].start_at_ms, stage_id="s1")
    n_old = len(memory.facts)
    facts.ride_a_stage("r1", stages["s2"], before_kg=68.0, after_kg=67.0, agreed_l=2.5)
    repository.add_team(Team(id=TEAM, name="Team", race_name="Race"))
    for record in memory.edited_records.values():
        repository.put_edited(TEAM, record)
    _kept(repository, memory.facts[:n_old], 25)
    _kept(repository, memory.facts[n_old:], 1)
    recompute(repository, TEAM, EVERYTHING)
    return repository


def _total(repository, stage_id="s1", rider_id="r1"):
    found = repository.document(TEAM, f"stage_total:{rider_id}:{stage_id}")
    return None if found is None else msgspec.json.decode(found.body, type=StageTotal)


def _settlement(repository, stage_id="s1"):
    found = repository.document(TEAM, f"settlement:r1:{stage_id}")
    return None if found is None else msgspec.json.decode(found.body, type=Settlement)


def test_totals_of_a_settled_stage_stay_when_its_facts_go_and_are_never_computed_over(place):
    repository, data = _ridden(place), place[0]
    before = _settlement(repository)
    assert before.state == "settled"

    assert [one.stage_id for one in keeping.planned_totals(repository, now_ms=NOW_MS)] == ["s1"]
    keeping.retain(repository, data, now_ms=NOW_MS, is_dry=True)
    assert _total(repository) is None, "a dry run keeps nothing"

    keeping.retain(repository, data, now_ms=NOW_MS, is_dry=False)
    kept = _total(repository)
    recompute(repository, TEAM, EVERYTHING)

    assert (kept.drunk_l, kept.sweat_loss_l, kept.sodium_lost_mg, kept.sodium_drunk_mg, kept.lane) == (
        before.agreed_drunk_l, before.sweat_loss_l, before.sodium_lost_mg, before.sodium_drunk_mg, before.lane)
    assert (kept.drunk_sd_l, kept.sweat_loss_sd_l) == (before.drunk_sd_l, before.sweat_loss_sd_l)
    assert (kept.stage_number, len(kept.day)) == (1, 10)
    assert "mass" not in repository.document(TEAM, "stage_total:r1:s1").body.decode()
    assert _settlement(repository) is None, "the facts are gone, so it cannot be settled again"
    assert _total(repository) == kept
    assert _total(repository, "s2") is None, "its facts are there"
    assert _total(repository, "s1", "r2") is None, "it was never settled"
    assert keeping.planned_totals(repository, now_ms=NOW_MS) == []
    repository.close()


def test_erasing_takes_totals_and_an_older_backup_makes_them_again(place, tmp_path):
    repository, data = _ridden(place), place[0]
    copy = tmp_path / "copies" / "one.sqlite3"
    backup(repository, copy)
    keeping.retain(repository, data, now_ms=NOW_MS, is_dry=False)
    kept = _total(repository)
    repository.close()

    assert restore(*place, copy).n_without_key == 0
    again = open_repository(*place)
    assert _total(again) == kept
    assert keeping.planned_totals(again, now_ms=NOW_MS) == []

    erase_subject(again, Erasure(team_id=TEAM, subject_id="r1", erased_at_ms=NOW_MS))
    assert _total(again) is None
    again.close()


def test_only_the_person_and_those_who_read_bodies_are_given_totals():
    def may(role, rider_id=None):
        return may_read_document(Member(id="m", name="M", role=role, rider_id=rider_id), "stage_total", "r1")

    assert [role for role in ("coach", "soigneur", "car", "doctor", "physiologist", "admin") if may(role)] == [
        "doctor", "physiologist", "admin"]
    assert (may("rider", "r1"), may("rider", "r2")) == (True, False)
    assert sort_of_document("stage_total") == "body"


def test_the_dry_run_says_which_totals_would_stay(tmp_path, capsys):
    _ridden((tmp_path / "data", "")).close()

    assert main(["retain", "--data", str(tmp_path / "data"), "--dry-run"]) == 0
    assert "of 1 settled rider-stages the totals would stay" in capsys.readouterr().out
