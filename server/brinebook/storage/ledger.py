"""The ledger of erased subjects outside the database: a restored backup must not bring anybody back."""

import os
from collections.abc import Iterable
from pathlib import Path

import msgspec
from msgspec import Struct

from brinebook.storage.errors import StorageUnavailable

FILE_NAME = "erased.jsonl"
RETAINED_NAME = "retained.json"


class Erasure(Struct, frozen=True, kw_only=True):
    """One subject of one team that is to stay forgotten."""

    team_id: str
    subject_id: str
    erased_at_ms: int


class Retained(Struct, frozen=True, kw_only=True):
    """Facts of a team disclosed as ``kind`` and taken in before an instant went; "" stands for kinds nobody knows."""

    team_id: str
    kind: str
    before_ms: int


def read_retained(data: Path) -> list[Retained]:
    """Read up to when facts went; a restored backup must not bring them back either."""
    path = data / RETAINED_NAME
    if not path.exists():
        return []
    try:
        return msgspec.json.decode(path.read_bytes(), type=list[Retained])
    except msgspec.DecodeError as problem:
        raise StorageUnavailable(f"{RETAINED_NAME} cannot be read") from problem


def keep_retained(data: Path, fresh: Iterable[Retained]) -> None:
    """Raise what is written down; it is on the disk when this returns, whole or as before."""
    data.mkdir(parents=True, exist_ok=True)
    highest = {(one.team_id, one.kind): one.before_ms for one in read_retained(data)}
    for one in fresh:
        highest[one.team_id, one.kind] = max(one.before_ms, highest.get((one.team_id, one.kind), 0))
    rows = [Retained(team_id=key[0], kind=key[1], before_ms=at_ms) for key, at_ms in sorted(highest.items())]
    part = data / f"{RETAINED_NAME}.part"
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(handle, "wb") as stream:
        stream.write(msgspec.json.encode(rows))
        stream.flush()
        os.fsync(stream.fileno())
    part.replace(data / RETAINED_NAME)
    _flush_folder(data)


def _flush_folder(data: Path) -> None:
    folder = os.open(data, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


def read_ledger(data: Path) -> list[Erasure]:
    """Read the ledger of a data folder; a last line cut off by a crash was never acted on and is left out."""
    path = data / FILE_NAME
    if not path.exists():
        return []
    *lines, last = path.read_bytes().split(b"\n")
    try:
        found = [msgspec.json.decode(line, type=Erasure) for line in lines if line]
    except msgspec.DecodeError as problem:
        raise StorageUnavailable(f"{FILE_NAME} cannot be read") from problem
    try:
        return [*found, msgspec.json.decode(last, type=Erasure)]
    except msgspec.DecodeError:
        return found


def write_down(data: Path, erasures: Iterable[Erasure]) -> None:
    """Add what the ledger does not hold yet; it is on the disk when this returns."""
    data.mkdir(parents=True, exist_ok=True)
    path = data / FILE_NAME
    known = {(one.team_id, one.subject_id) for one in read_ledger(data)}
    fresh = [one for one in erasures if (one.team_id, one.subject_id) not in known]
    if not fresh:
        return
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    with os.fdopen(handle, "ab") as stream:
        if path.stat().st_size and not path.read_bytes().endswith(b"\n"):
            stream.write(b"\n")
        stream.writelines(msgspec.json.encode(one) + b"\n" for one in fresh)
        stream.flush()
        os.fsync(stream.fileno())
    _flush_folder(data)
