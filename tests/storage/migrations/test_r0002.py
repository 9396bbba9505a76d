"""The second migration adds the ledger of the erased to a store in use and touches nothing else."""

import pytest
from brinebook.storage.migrate import upgrade
from brinebook.storage.sql import SqlRepository
from sqlalchemy import text

FILL = (
    "INSERT INTO store VALUES ('epoch', 'e1')",
    "INSERT INTO team_counter (team_id, event_seq, document_seq, computed_seq) VALUES ('red', 7, 9, 7)",
    "INSERT INTO event VALUES ('red', 'id-1', 7, 'drank', 'r1', 'm', 'drank', 'sha', 1790000000000, '{}')",
)


@pytest.fixture
def before(empty):
    """A database as the first release left it, with rows."""
    upgrade(empty, "r0001")
    with empty.writing() as connection:
        for statement in FILL:
            connection.execute(text(statement))
    return empty


def test_rows_of_the_first_release_are_all_there_after_it(before):
    upgrade(before)

    repository = SqlRepository(before)
    heads = repository.heads("red")
    assert (heads.events, heads.documents, heads.erased) == (7, 9, 0)
    assert repository.epoch() == "e1"
    assert repository.known_events("red", ["id-1"])["id-1"].seq == 7
    assert repository.erased_subjects("red") == frozenset()
