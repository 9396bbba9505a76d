"""The migration of the passkeys keeps who is signed in, and nobody of them has shown yet who he is."""

from brinebook.storage.migrate import upgrade
from brinebook.storage.sql import SqlRepository
from sqlalchemy import text

DEVICE = "INSERT INTO device VALUES ('red', 'd1', 'm1', 'phone', 'sha-1', '', 1790000000000, :is_revoked, 'sha-2')"


def test_devices_stay_signed_in_and_passkeys_begin_empty(empty):
    upgrade(empty, "r0007")
    with empty.writing() as connection:
        connection.execute(text(DEVICE), {"is_revoked": False})

    upgrade(empty)

    repository = SqlRepository(empty)
    device = repository.device("red", "d1")
    assert device is not None
    assert (device.token_sha, device.next_token_sha, device.verified_at_ms) == ("sha-1", "sha-2", None)
    repository.verify_device("red", "d1", 1_790_000_000_001)
    shown = repository.device("red", "d1")
    assert shown is not None
    assert (shown.verified_at_ms, shown.next_token_sha) == (1_790_000_000_001, "sha-2")
    assert repository.passkeys_of("red", "m1") == []
    assert [repository.use_challenge("c", 2, 1), repository.use_challenge("c", 2, 1)] == [True, False]
