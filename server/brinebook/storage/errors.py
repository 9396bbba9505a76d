"""What can go wrong with stored records; errors carry fields, sentences are made at the edge."""

from dataclasses import dataclass


class StorageError(Exception):
    """Base of all storage errors."""


@dataclass(eq=False)
class NotFound(StorageError):
    """No such record in this team."""

    kind: str
    id: str


@dataclass(eq=False)
class StaleWrite(StorageError):
    """The record was edited by somebody else since it was read; ``current`` is the newer record as JSON."""

    kind: str
    id: str
    expected: int
    found: int
    current: bytes = b"null"


@dataclass(eq=False)
class StorageUnavailable(StorageError):
    """The database did not take the write; nothing of the transaction is kept. ``after_s`` says when to try again."""

    reason: str
    after_s: int = 2


@dataclass(eq=False)
class StorageConflict(StorageUnavailable):
    """The write met another one under way; nothing of it is kept, and the same again may well succeed."""


@dataclass(eq=False)
class StoreDamaged(StorageError):
    """A store is not whole: ``field`` names the table, ``value`` the team, ``limit`` what is wrong with it."""

    field: str
    value: str
    limit: str


@dataclass(eq=False)
class KeysMissing(StorageError):
    """A backup cannot be read without its people's keys: ``field`` names the file, ``value`` where it was sought."""

    field: str
    value: str
    limit: str = (
        "the newest people.keys beside the backup or in the data folder; without it nothing about any person of this "
        "backup can be read, by anybody"
    )
