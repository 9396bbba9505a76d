"""The cursor: opaque to phones; how far they have read, in which history, with which eyes."""

import base64
import binascii

import msgspec
from msgspec import Struct


class Cursor(Struct, frozen=True, kw_only=True, array_like=True):
    """A place in both sequences, valid for one epoch and one scope."""

    epoch: str
    scope: str
    seq: int = 0
    document_seq: int = 0


def encoded(cursor: Cursor) -> str:
    """Give the form that travels."""
    return base64.urlsafe_b64encode(msgspec.json.encode(cursor)).decode()


def read(text: str | None) -> Cursor | None:
    """Read a cursor; one that cannot be read is as good as none."""
    if text is None:
        return None
    try:
        return msgspec.json.decode(base64.urlsafe_b64decode(text.encode()), type=Cursor)
    except (msgspec.DecodeError, binascii.Error, UnicodeError, ValueError):
        return None
