"""The fifth and sixth migrations add the ledger and the next token, and keep who is signed in."""

from brinebook.storage.migrate import upgrade
from brinebook.storage.sql import SqlRepository
from sqlalchemy import text

DEVICE = "INSERT INTO device VALUES ('red', 'd1', 'm1', 'phone', 'sha-1', '', 1790000000000, :is_revoked)"


def test_devices_stay_signed_in_and_the_ledger_begins_empty(empty):
    upgrade(empty, "r0004")
    with empty.writing() as connection:
        connection.execute(text(DEVICE), {"is_revoked": False})

    upgrade(empty)

    repository = SqlRepository(empty)
    device = repository.device("red", "d1")
    assert device is not None
    assert (device.token_sha, device.next_token_sha, device.is_revoked) == ("sha-1", None, False)
    assert (repository.ledger_rows("red"), repository.ledger_head("red")) == ([], None)
