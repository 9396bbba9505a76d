"""What can go wrong with access."""

from dataclasses import dataclass


class AccessError(Exception):
    """Base of all access errors."""


@dataclass(eq=False)
class NotSignedIn(AccessError):
    """No token, an unknown token, or one that has run out."""


@dataclass(eq=False)
class DeviceRevoked(AccessError):
    """The device was revoked: it must forget what it pulled, and hands over what it made once in each ``epoch``."""

    epoch: str = ""


@dataclass(eq=False)
class NotYours(AccessError):
    """The record exists or not, but not for this person."""

    kind: str
    id: str


@dataclass(eq=False)
class InviteUnusable(AccessError):
    """The invitation is unknown, used or out of date; which of them is not told."""


@dataclass(eq=False)
class RiderAlone(AccessError):
    """A rider's invitation on a phone that others share; it is not used up."""


@dataclass(eq=False)
class PasskeyNeeded(AccessError):
    """An invitation alone brings in no new device of a person who has a passkey; it is not used up."""


@dataclass(eq=False)
class InviteImpossible(AccessError):
    """Nobody can be invited like this: ``field`` is wrong, ``limit`` says what it must be."""

    field: str
    value: str
    limit: str


@dataclass(eq=False)
class MonthsImpossible(AccessError):
    """Facts cannot be kept so long or so short: ``field`` is wrong, ``limit`` says what it must be."""

    field: str
    value: str
    limit: str


@dataclass(eq=False)
class PasskeyRefused(AccessError):
    """A passkey's answer does not hold: ``field`` is wrong, ``limit`` says what it must be."""

    field: str
    limit: str


@dataclass(eq=False)
class VerifyAgain(AccessError):
    """The person must first show, by a passkey, that he himself holds the device."""


@dataclass(eq=False)
class TooManyAttempts(AccessError):
    """Too many wrong invitations in a short time."""

    after_s: int


@dataclass(eq=False)
class NoSuchNotice(AccessError):
    """An answer to a text that is not the present one: ``field`` is wrong, ``limit`` says what it must be."""

    field: str
    value: str
    limit: str
