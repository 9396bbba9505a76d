"""All outside data enters here: decoded strictly, told precisely what is wrong."""

import hashlib
import re
from typing import TypeVar

import msgspec

from brinebook.sync.errors import BadRecord

T = TypeVar("T")
_MESSAGE = re.compile(r"^(?P<limit>.*?)(?: - at `(?P<place>[^`]*)`)?$", re.DOTALL)
_MISSING = re.compile(r"missing required field `(?P<name>[^`]+)`")
_INVALID = (msgspec.DecodeError, UnicodeDecodeError, RecursionError)


def _bad_record(problem: Exception) -> BadRecord:
    found = _MESSAGE.match(str(problem))
    limit, place = (found["limit"], found["place"] or "") if found else (str(problem), "")
    field = place.removeprefix("$").removeprefix(".")
    missing = _MISSING.search(limit)
    if missing:
        field = f"{field}.{missing['name']}".strip(".")
    return BadRecord(field, "", limit.replace("`", ""))


def decoded(raw: bytes, type_: type[T]) -> T:
    """Decode JSON into a record, or raise ``BadRecord`` with the field and its limit in words."""
    try:
        return msgspec.json.decode(raw, type=type_)
    except _INVALID as problem:
        raise _bad_record(problem) from problem


def content_sha(raw: bytes) -> str:
    """Hash what a body says, whatever its white space and the order of its fields."""
    try:
        return hashlib.sha256(msgspec.json.encode(msgspec.json.decode(raw), order="sorted")).hexdigest()
    except _INVALID as problem:
        raise _bad_record(problem) from problem
