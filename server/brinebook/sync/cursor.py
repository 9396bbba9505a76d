"""The cursor: opaque to phones; how far they have read, in which history, with which eyes."""

import base64
import binascii

import msgspec
from msgspec import Struct

from brinebook.sync.scope import Scope


class Back(Struct, frozen=True, array_like=True):
    """Reading again, up to a place already reached, what a change of scope opened; the scope before tells what."""

    was: Scope
    seq: int
    document_seq: int


class Cursor(Struct, frozen=True, kw_only=True, array_like=True):
    """A place in both sequences, valid for one epoch and one scope."""

    epoch: str
    scope: Scope
    seq: int = 0
    document_seq: int = 0
    erased: int = 0
    """The last ``erase`` event there was when this was written."""
    back: Back | None = None


def encoded(cursor: Cursor) -> str:
    """Give the form that travels."""
    return base64.urlsafe_b64encode(msgspec.json.encode(cursor)).decode()


def read(text: str | None) -> Cursor | None:
    """Read a cursor; None when it is missing or of a form that never was, or is no more."""
    if text is None:
        return None
    try:
        return msgspec.json.decode(base64.urlsafe_b64decode(text.encode()), type=Cursor)
    except (msgspec.DecodeError, binascii.Error, UnicodeError, ValueError):
        return None
