"""The repository keeps the contract on SQLite and on PostgreSQL, and what it says it flushed."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from brinebook.records.edited import Team
from brinebook.storage.errors import NotFound, StorageConflict, StorageUnavailable
from brinebook.storage.sql import SqlRepository, open_repository
from brinebook.storage.sql_facts import _KNOWN_ONE_BY_ONE
from sqlalchemy import text
from storage.contract import RepositoryContract, new_document, new_event
from support import postgres


@pytest.fixture
def repository(tmp_path: Path) -> Iterator[SqlRepository]:
    opened = open_repository(tmp_path)
    yield opened
    opened.close()


class TestSqliteRepository(RepositoryContract):
    """All of the contract, on SQLite."""


class TestPostgresqlRepository(RepositoryContract):
    """All of the contract, on PostgreSQL."""

    @pytest.fixture
    def repository(self, tmp_path: Path) -> Iterator[SqlRepository]:
        with postgres.database() as url:
            opened = open_repository(tmp_path, url)
            yield opened
            opened.close()


def test_every_commit_is_flushed_to_disk(repository):
    with repository.database.reading() as connection:
        flushes = connection.scalar(text("PRAGMA synchronous"))
        journal = connection.scalar(text("PRAGMA journal_mode"))

    assert (flushes, journal) == (2, "wal")


def test_an_epoch_stays_with_its_file(tmp_path, repository):
    again = open_repository(tmp_path)
    again.close()
    (tmp_path / "other").mkdir()
    other = open_repository(tmp_path / "other")
    other.close()

    assert again.epoch() == repository.epoch() != other.epoch()


def test_a_foreign_error_comes_out_as_ours_with_the_original_inside(repository):
    repository.add_team(Team(id="red", name="R", race_name="R"))

    with pytest.raises(StorageConflict) as caught:
        repository.add_team(Team(id="red", name="R", race_name="R"))

    assert caught.value.reason == "IntegrityError"
    assert caught.value.__cause__ is not None


def test_a_write_inside_a_snapshot_is_refused(repository):
    with pytest.raises(StorageUnavailable), repository.snapshot():
        repository.add_team(Team(id="red", name="R", race_name="R"))


def test_an_unknown_team_gets_no_records(repository):
    with pytest.raises(NotFound):
        repository.add_events("green", [new_event()])
    with pytest.raises(NotFound):
        repository.put_documents("green", [new_document()])


def test_the_file_is_readable_after_it_was_closed_and_opened(tmp_path, repository):
    repository.add_team(Team(id="red", name="R", race_name="R"))
    repository.add_events("red", [new_event()])
    repository.close()

    again = open_repository(tmp_path)

    assert again.head("red") == 1
    again.close()


def test_postgresql_looks_known_facts_up_by_key_before_it_has_statistics(tmp_path):
    with postgres.database() as url:
        opened = open_repository(tmp_path, url)
        opened.add_team(Team(id="red", name="R", race_name="R"))
        for _ in range(4):
            events = [new_event() for _ in range(500)]
            opened.add_events("red", events)
        ids = [new.event.id for new in events[:50]]
        with opened.database.reading() as connection:
            words = text(f"EXPLAIN (ANALYZE, BUFFERS OFF) {_KNOWN_ONE_BY_ONE.text}")
            plan = "\n".join(connection.scalars(words, {"of_team": "red", "ids": ids}))

        assert set(opened.known_events("red", ids)) == set(ids)
        opened.close()

    assert "event_pkey" in plan
    assert "Rows Removed by Filter" not in plan
