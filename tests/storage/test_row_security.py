"""On PostgreSQL a statement that forgets every filter still gives a person no row that is not his."""

from collections.abc import Iterator

import pytest
from brinebook.access import disclosure
from brinebook.access.roles import ALL_ROLES
from brinebook.records.edited import Member, Rider, Team
from brinebook.storage.repository import NewDocument
from brinebook.storage.sql import SqlRepository, open_repository
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError
from storage.contract import new_event
from support import postgres
from support.world import open_world

SUBJECTS = {"red": ("r1", "r2", "m-r1", "red", ""), "blue": ("b1", "blue", "")}
KINDS = (*disclosure.FACT_READERS, "kind_of_tomorrow")
TYPES = (*disclosure.DOCUMENT_READERS, "type_of_tomorrow")


@pytest.fixture(scope="module")
def repository(tmp_path_factory) -> Iterator[SqlRepository]:
    with postgres.database() as url:
        opened = open_repository(tmp_path_factory.mktemp("net"), url)
        for team_id, subjects in SUBJECTS.items():
            opened.add_team(Team(id=team_id, name=team_id, race_name="R"))
            opened.put_edited(team_id, Rider(id=f"{team_id}-rider", name="X", race_number=1))
            opened.add_events(team_id, [
                new_event(kind=kind, subject_id=subject) for kind in KINDS for subject in subjects
            ])
            opened.put_documents(team_id, [
                NewDocument(id=f"{type_}:{subject}", type=type_, subject_id=subject, body=b"{}")
                for type_ in TYPES for subject in subjects
            ])
        yield opened
        opened.close()


def member_of(role):
    return Member(id="m-r1", name="M", role=role, rider_id="r1" if role == "rider" else None)


def all_rows(repository, statement, role=None, team_id="red"):
    """Run a statement without any filter, with somebody's eyes or as the server itself."""
    eyes = None if role is None else disclosure.eyes_of(team_id, member_of(role))
    with repository.snapshot(eyes), repository.database.reading() as connection:
        return set(map(tuple, connection.execute(text(statement)).all()))


@pytest.mark.parametrize("role", sorted(ALL_ROLES))
def test_without_any_filter_a_person_gets_what_the_table_says_and_no_row_more(repository, role):
    member = member_of(role)
    events = all_rows(repository, "SELECT team_id, disclosed_as, subject_id FROM event", role)
    documents = all_rows(repository, "SELECT team_id, type, subject_id FROM document WHERE id LIKE type || ':%'", role)
    digests = all_rows(repository, "SELECT team_id, disclosed_as, subject_id FROM event_digest", role)

    told = {("red", kind, subject) for kind in KINDS for subject in SUBJECTS["red"]
            if disclosure.may_read_fact(member, kind, subject)}
    assert events == told
    assert digests == told
    assert documents - {("red", "rider", "red-rider"), ("red", "team", "red")} == {
        ("red", type_, subject) for type_ in TYPES for subject in SUBJECTS["red"]
        if disclosure.may_read_document(member, type_, subject)
    } - {("red", "team", "red")}


@pytest.mark.parametrize("statement", [
    "SELECT * FROM device", "SELECT * FROM invite", "SELECT * FROM quarantine", "SELECT body FROM edited",
    "DELETE FROM event", "UPDATE document SET type = 'team'",
])
def test_with_somebodys_eyes_other_tables_and_writes_are_out_of_reach(repository, statement):
    eyes = disclosure.eyes_of("red", member_of("admin"))

    with repository.database.engine.connect() as connection:
        repository.database.backend.look_through(connection, eyes)
        with pytest.raises(DBAPIError, match="permission denied"):
            connection.execute(text(statement))


def test_ids_of_another_team_are_out_of_reach(repository):
    assert all_rows(repository, "SELECT DISTINCT team_id FROM edited", "admin") == {("red",)}
    assert all_rows(repository, "SELECT team_id FROM team_counter", "rider") == {("red",)}
    assert all_rows(repository, "SELECT count(*) FROM event", "admin", team_id="no-such-team") == {(0,)}


def test_the_server_itself_still_sees_and_writes_everything(repository):
    rows = all_rows(repository, "SELECT team_id, disclosed_as, subject_id FROM event")

    assert len(rows) == len(KINDS) * sum(map(len, SUBJECTS.values()))
    assert repository.add_events("blue", [new_event()])


def test_the_reader_may_not_pass_the_policies(repository):
    role = "SELECT rolcanlogin, rolsuper, rolbypassrls, rolinherit FROM pg_roles WHERE rolname = 'brinebook_reader'"

    assert all_rows(repository, role) == {(False, False, False, False)}
    assert repository.database.backend.has_second_net


def test_an_exchange_whose_filter_is_gone_still_brings_no_more(tmp_path, monkeypatch):
    with postgres.database() as url:
        for world in open_world(tmp_path, url=url):
            doctor, rider = world.join("red", "doctor"), world.join("red", "rider", "r1")
            for subject in ("r1", "r2"):
                assert doctor.exchange(doctor.fact("weighed", subject, {"moment": "before", "mass_kg": 66.125}))
            rider.exchange()
            before = set(rider.events), set(rider.documents)
            monkeypatch.setattr(disclosure, "may_read_fact", lambda *_: True)
            monkeypatch.setattr(disclosure, "may_read_document", lambda *_: True)
            rider.cursor = None
            rider.exchange()

            assert (set(rider.events), set(rider.documents)) == before
            assert {event["subject_id"] for event in rider.events.values()} == {"r1"}
