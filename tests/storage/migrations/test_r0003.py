"""The third migration adds the table of waiting changes and leaves the erased alone."""

from brinebook.storage.ledger import Erasure
from brinebook.storage.migrate import upgrade
from brinebook.storage.sql import SqlRepository
from sqlalchemy import text


def test_the_erased_are_still_known_and_changes_can_wait(empty):
    upgrade(empty, "r0002")
    with empty.writing() as connection:
        connection.execute(text("INSERT INTO erased_subject VALUES ('red', 'r1', 1790000000000)"))

    upgrade(empty)

    repository = SqlRepository(empty)
    assert repository.erasures() == [Erasure(team_id="red", subject_id="r1", erased_at_ms=1_790_000_000_000)]
    assert repository.n_waiting() == 0
    repository.add_waiting("red", b"{}")
    assert repository.n_waiting() == 1
