"""Reading a backup's boxes: with whose keys there are, and naming whoever has none any more."""

import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing
from itertools import groupby
from pathlib import Path
from typing import Any

import msgspec
from msgspec import Struct
from sqlalchemy import Connection, text

from brinebook.storage.database import Database
from brinebook.storage.errors import KeysMissing, StorageUnavailable
from brinebook.storage.people_keys import FILE_NAME, KeyFile, Keys, read_keys
from brinebook.storage.sealing import FORM, Box, Item, Owners, Unpacker, with_shares
from brinebook.storage.sqlite import SqliteBackend

_LINES = text("SELECT DISTINCT team_id, owners FROM sealed_box ORDER BY team_id, owners")
_LINE = text("""
    SELECT n, is_last, nonce, sealed FROM sealed_box WHERE team_id = :team_id AND owners = :owners ORDER BY n
""")
_STAGE = "team_id = :team_id AND type = :type AND id = :id"


class About(Struct, frozen=True, kw_only=True):
    """What a backup says of itself in the clear; ``team_ids`` are those somebody is boxed of."""

    form: int
    backup_id: bytes
    made_at_ms: int
    team_ids: frozenset[str]


def _about(connection: Connection) -> About | None:
    if connection.scalar(text("SELECT count(*) FROM sqlite_master WHERE name = 'sealed_about'")) == 0:
        return None
    row = connection.execute(text("SELECT form, backup_id, made_at_ms FROM sealed_about")).first()
    teams = frozenset(connection.scalars(text("SELECT DISTINCT team_id FROM sealed_box")))
    if row is None or row[0] != FORM:
        form = None if row is None else row[0]
        raise StorageUnavailable(f"the backup has form {form}, and this version reads {FORM}")
    return About(form=row[0], backup_id=row[1], made_at_ms=row[2], team_ids=teams)


def about(path: Path) -> About | None:
    """Read what a backup says of itself; None for one of the older form, which holds everybody in the clear."""
    if not path.is_file():
        raise StorageUnavailable("there is no such file")
    database = Database(SqliteBackend(path))
    try:
        with database.reading() as connection:
            return _about(connection)
    finally:
        database.close()


def is_sealed(path: Path) -> bool:
    """Tell whether a file is a backup that opens with its people's keys alone; it is only read."""
    with closing(sqlite3.connect(f"file:{path}?mode=ro&immutable=1", uri=True)) as connection:
        try:
            found = connection.execute("SELECT count(*) FROM sqlite_master WHERE name = 'sealed_about'").fetchone()
        except sqlite3.DatabaseError:
            return False
    return bool(found[0])


def keys_for(told: About, folders: list[Path]) -> KeyFile:
    """
    Find the newest keys that go with a backup: beside it, or in the data folder.

    Raises ``KeysMissing`` when there are none, none of its teams, or only some that are older than the backup: whoever
    came in between would be taken for erased.
    """
    tried: list[str] = []
    fitting: list[KeyFile] = []
    for folder in folders:
        found = read_keys(folder)
        if found is None:
            tried.append(f"{folder / FILE_NAME} is not there")
        elif not told.team_ids <= frozenset(found.team_ids):
            tried.append(f"{folder / FILE_NAME} is of another store")
        elif found.written_at_ms < told.made_at_ms:
            tried.append(f"{folder / FILE_NAME} is older than the backup")
        else:
            fitting.append(found)
    if not fitting:
        raise KeysMissing(FILE_NAME, "; ".join(tried))
    return max(fitting, key=lambda one: one.written_at_ms)


def _lines(connection: Connection) -> list[tuple[str, Owners]]:
    return [(row[0], msgspec.json.decode(row[1], type=Owners)) for row in connection.execute(_LINES)]


def _boxes(connection: Connection, team_id: str, owners: Owners) -> Iterator[Box]:
    of = {"team_id": team_id, "owners": msgspec.json.encode(owners).decode()}
    for row in connection.execute(_LINE, of):
        yield Box(team_id=team_id, owners=owners, n=row[0], is_last=bool(row[1]), nonce=row[2], sealed=row[3])


def check_boxes(path: Path, keys: Keys) -> None:
    """Open every box of a backup; raise ``StoreDamaged`` for the first that does not open as it should."""
    database = Database(SqliteBackend(path))
    try:
        with database.reading() as connection:
            told = _about(connection)
            if told is None:
                return
            unpacker = Unpacker(told.backup_id, keys)
            for team_id, owners in _lines(connection):
                for _ in unpacker.items(team_id, owners, _boxes(connection, team_id, owners)):
                    pass
    finally:
        database.close()


def _put(connection: Connection, items: Iterable[Item]) -> None:
    """Put rows in, those of one table that follow each other at once."""
    for (name, columns), rows in groupby(items, lambda item: (item.table, tuple(item.row))):
        names, values = ", ".join(f'"{one}"' for one in columns), ", ".join(f":{one}" for one in columns)
        # Names come out of a box that only this program fills.
        words = text(f'INSERT OR REPLACE INTO "{name}" ({names}) VALUES ({values})')  # noqa: S608
        connection.execute(words, [item.row for item in rows])


def _put_shares(connection: Connection, found: list[Item]) -> None:
    records: dict[tuple[Any, ...], list[Item]] = {}
    for item in found:
        records.setdefault((item.row["team_id"], item.row["type"], item.row["id"]), []).append(item)
    for place, items in sorted(records.items()):
        of = dict(zip(("team_id", "type", "id"), place, strict=True))
        body = connection.scalar(text(f"SELECT body FROM edited WHERE {_STAGE}"), of)  # noqa: S608 words of ours
        whole = with_shares(msgspec.json.decode(body), [item.share for item in items if item.share is not None])
        changed = {**of, "body": msgspec.json.encode(whole)}
        connection.execute(text(f"UPDATE edited SET body = :body WHERE {_STAGE}"), changed)  # noqa: S608 words of ours


def unseal(database: Database, keys: Keys) -> list[tuple[str, str]]:
    """
    Bring back everybody whose key is there, in a copy of a backup; return those without one, as team and person.

    The copy is still of the version that wrote it: bring it up to date afterwards.
    """
    without_key: list[tuple[str, str]] = []
    with database.writing() as connection:
        told = _about(connection)
        if told is None:
            return []
        unpacker, shares = Unpacker(told.backup_id, keys), list[Item]()
        for team_id, owners in _lines(connection):
            if not unpacker.has_keys(team_id, owners):
                without_key += [(team_id, owners[0])] if len(owners) == 1 else []
                continue
            items = list(unpacker.items(team_id, owners, _boxes(connection, team_id, owners)))
            _put(connection, (item for item in items if item.share is None))
            shares += [item for item in items if item.share is not None]
        _put_shares(connection, shares)
        for name in ("sealed_box", "sealed_about"):
            connection.execute(text(f"DROP TABLE {name}"))
    return without_key
