"""What can go wrong with an exchange as a whole; a bad fact is a verdict, not an error."""

from dataclasses import dataclass


class SyncError(Exception):
    """Base of all sync errors."""


@dataclass(eq=False)
class UnsupportedProtocol(SyncError):
    """The other side speaks a protocol that never was."""

    theirs: int
    ours: int


@dataclass(eq=False)
class BadRecord(SyncError):
    """A body that is not what it should be: ``field`` is wrong, ``limit`` says what it must be."""

    field: str
    value: str
    limit: str


@dataclass(eq=False)
class TooLarge(SyncError):
    """The body is too long; send it in halves."""

    field: str
    limit: str


@dataclass(eq=False)
class TooManyEvents(SyncError):
    """The batch is too long; send it in halves."""

    value: int
    limit: int


@dataclass(eq=False)
class ClockAhead(SyncError):
    """The clock stands so far after the last fact that nothing is let go of by it."""

    field: str
    value: str
    limit: str
