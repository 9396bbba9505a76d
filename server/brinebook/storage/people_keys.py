"""
The file of persons' keys that lies beside backups: only the newest is kept, and only the living stand in it.

What a backup holds about a person opens with his key alone. Erasing destroys the key in the store, the next backup
writes this file anew, and every older backup is unreadable for that person from then on.
"""

import fcntl
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import msgspec
from msgspec import Struct

from brinebook.storage.errors import StorageUnavailable

FILE_NAME = "people.keys"
FORM = 1
Keys = Mapping[tuple[str, str], bytes]
"""(team id, person id) -> 32 bytes."""


class PersonKey(Struct, frozen=True, kw_only=True):
    """One living person's key."""

    team_id: str
    person_id: str
    key: bytes


class KeyFile(Struct, frozen=True, kw_only=True):
    """All keys as they stood at an instant."""

    form: int
    written_at_ms: int
    team_ids: list[str]
    """The teams these keys are all the keys of."""
    keys: list[PersonKey]

    def as_table(self) -> dict[tuple[str, str], bytes]:
        """Give the keys by team and person."""
        return {(one.team_id, one.person_id): one.key for one in self.keys}


def read_keys(folder: Path) -> KeyFile | None:
    """Read the keys in a folder; None where there is no such file. Raises ``StorageUnavailable`` for a bent one."""
    path = folder / FILE_NAME
    try:
        found = msgspec.json.decode(path.read_bytes(), type=KeyFile)
    except FileNotFoundError:
        return None
    except (OSError, msgspec.DecodeError) as problem:
        raise StorageUnavailable(f"{path} cannot be read: {type(problem).__name__}") from problem
    if found.form != FORM:
        raise StorageUnavailable(f"{path} has form {found.form}, and this version reads {FORM}")
    return found


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    handle = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def replacing(folder: Path) -> Iterator["Replacing"]:
    """Hold the folder's file: what is read from the store inside is the newest when it is written."""
    with _alone(folder):
        yield Replacing(folder)


class Replacing:
    """Replaces the file of a folder by the present keys, whole or not at all."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def write(self, keys: Keys, *, team_ids: frozenset[str], at_ms: int) -> None:
        """Write the keys of these teams; those of other stores that share the folder stay as they are."""
        old = read_keys(self._folder)
        others = [] if old is None else [one for one in old.keys if one.team_id not in team_ids]
        mine = [
            PersonKey(team_id=team_id, person_id=person_id, key=key)
            for (team_id, person_id), key in sorted(keys.items())
        ]
        made = KeyFile(
            form=FORM, written_at_ms=max(at_ms, 0 if old is None else old.written_at_ms),
            team_ids=sorted(team_ids | frozenset([] if old is None else old.team_ids)), keys=[*others, *mine],
        )
        part = self._folder / f"{FILE_NAME}.part"
        part.unlink(missing_ok=True)
        with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as stream:
            stream.write(msgspec.json.encode(made))
            stream.flush()
            os.fsync(stream.fileno())
        part.replace(self._folder / FILE_NAME)
