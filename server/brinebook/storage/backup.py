"""
Backups: one SQLite file from either kind of database, taken while the server writes, and checked by opening it.

Its tables hold the store as if everybody in it were erased; beside them lie boxes that bring each person back, and
open with his key alone (``sealing``). The keys stand in ``people.keys`` beside the file, the newest only.
"""

import os
import secrets
from collections.abc import Iterator
from pathlib import Path

import msgspec
from sqlalchemy import Connection, Table, func, select, text
from sqlmodel import SQLModel

from brinebook import clock
from brinebook.storage import people_keys
from brinebook.storage.check import TeamCount, check_store
from brinebook.storage.database import Database
from brinebook.storage.errors import StorageConflict, StorageUnavailable
from brinebook.storage.migrate import upgrade
from brinebook.storage.owners import ABOUT_NOBODY, LEFT_OUT, STAGE, People, everybody
from brinebook.storage.rows import table
from brinebook.storage.sealing import FORM, KEY_BYTES, Box, Item, Owners, Packer, Row, without
from brinebook.storage.sql import SqlRepository
from brinebook.storage.sql_erasure import NOTHING
from brinebook.storage.sqlite import SqliteBackend
from brinebook.storage.unsealing import check_boxes

ROWS_AT_ONCE = 2000
MOST_TRIES = 20
TABLES: list[Table] = [one for one in SQLModel.metadata.sorted_tables if one.name != "alembic_version"]
_BOXES = (
    "CREATE TABLE sealed_about (form INTEGER NOT NULL, backup_id BLOB NOT NULL, made_at_ms INTEGER NOT NULL)",
    """
    CREATE TABLE sealed_box (
        team_id TEXT NOT NULL, owners TEXT NOT NULL, n INTEGER NOT NULL, is_last INTEGER NOT NULL,
        nonce BLOB NOT NULL, sealed BLOB NOT NULL, PRIMARY KEY (team_id, owners, n)
    )
    """,
)
_ADD_BOX = text("INSERT INTO sealed_box VALUES (:team_id, :owners, :n, :is_last, :nonce, :sealed)")
_ADD_ABOUT = text("INSERT INTO sealed_about VALUES (:form, :backup_id, :made_at_ms)")


def flush(path: Path) -> None:
    """Put a file, or a folder's list of files, on the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def copy_rows(source: Connection, target: Connection) -> None:
    """Copy all rows of all tables; the target's tables are there and empty."""
    for one in TABLES:
        rows = source.execution_options(yield_per=ROWS_AT_ONCE).execute(select(one)).mappings()
        for part in rows.partitions(ROWS_AT_ONCE):
            target.execute(one.insert(), [dict(row) for row in part])
    if target.dialect.name == "postgresql":
        for name in ("quarantine", "pending_change"):
            highest = select(func.max(table(name).c.n)).scalar_subquery()
            target.execute(select(func.setval(func.pg_get_serial_sequence(name, "n"), func.coalesce(highest, 1))))


def empty(connection: Connection) -> None:
    """Remove all rows of all tables."""
    for one in reversed(TABLES):
        connection.execute(one.delete())


def _cut(name: str, row: Row, people: People) -> tuple[Row | None, list[tuple[Owners, Item]]]:
    """Cut a row into what stays in the clear and what goes into whose boxes."""
    owner = "" if name in ABOUT_NOBODY else people.owner(name, row)
    if owner:
        skeleton = {**row, **NOTHING} if name == "event" else None
        return skeleton, [((owner,), Item(name, row))]
    if name == "document" and row["body"] is not None:
        owners = people.named(row["team_id"], row["body"])
        return ({**row, "sha": "", "body": None}, [(owners, Item(name, row))]) if owners else (row, [])
    if name == "edited" and row["type"] == STAGE:
        left, shares = without(msgspec.json.decode(row["body"]), living=people.living(row["team_id"]))
        named = {key: row[key] for key in ("team_id", "type", "id")}
        items: list[tuple[Owners, Item]] = [
            ((people.person(row["team_id"], share[2]),), Item(name, named, share)) for share in shares
        ]
        return ({**row, "body": msgspec.json.encode(left)} if shares else row), items
    return row, []


def _plain(name: str) -> str:
    """Give a name as a plain string; the library's own are of a kind that is not packed."""
    return "".join(list(name))


def _names(one: Table) -> list[str]:
    return [_plain(column.name) for column in one.columns]


def _boxed(source: Connection, target: Connection, people: People, packer: Packer) -> Iterator[Box]:
    for one in (one for one in TABLES if one.name not in LEFT_OUT):
        rows, names = source.execution_options(yield_per=ROWS_AT_ONCE).execute(select(one)), _names(one)
        for part in rows.partitions(ROWS_AT_ONCE):
            plain: list[Row] = []
            for row in (dict(zip(names, values, strict=True)) for values in part):
                left, items = _cut(_plain(one.name), row, people)
                plain += [] if left is None else [left]
                for owners, item in items:
                    n_bytes = sum(len(value) for value in row.values() if isinstance(value, bytes))
                    yield from packer.add(row["team_id"], owners, item, n_bytes)
            if plain:
                target.execute(one.insert(), plain)
    yield from packer.rest()


def _fill(source: Connection, target: Connection, people: People) -> None:
    packer = Packer(people.keys)
    empty(target)
    for words in _BOXES:
        target.execute(text(words))
    about = {"form": FORM, "backup_id": packer.backup_id, "made_at_ms": clock.now_ms()}
    target.execute(_ADD_ABOUT, about)
    for box in _boxed(source, target, people, packer):
        values = msgspec.structs.asdict(box) | {"owners": msgspec.json.encode(box.owners).decode()}
        target.execute(_ADD_BOX, values)


def _write(repository: SqlRepository, part: Path) -> dict[tuple[str, str], bytes]:
    """Write one state of the store, checked while it is read; whoever has no key yet gets one first."""
    for _ in range(MOST_TRIES):
        with repository.database.reading() as source:
            people = People(source)
            missing = everybody(source, people) - set(people.keys)
            if not missing:
                check_store(repository.database)
                copy = Database(SqliteBackend(part))
                try:
                    upgrade(copy)
                    with copy.writing() as target:
                        _fill(source, target, people)
                finally:
                    copy.close()
                return people.keys
        for team_id, person_id in sorted(missing):
            repository.put_person_key(team_id, person_id, secrets.token_bytes(KEY_BYTES))
    raise StorageConflict("people kept coming while it was written")


def _write_keys(repository: SqlRepository, folder: Path) -> None:
    with people_keys.replacing(folder) as file:
        with repository.database.reading() as connection:
            people = People(connection)
        keys = {place: key for place, key in people.keys.items() if people.person(*place)}
        file.write(keys, team_ids=frozenset(repository.team_ids()), at_ms=clock.now_ms())


def check_file(path: Path) -> list[TeamCount]:
    """Open a backup as a database and count what it holds, or raise what is wrong with it."""
    if not path.is_file():
        raise StorageUnavailable("there is no such file")
    copy = Database(SqliteBackend(path))
    try:
        return check_store(copy)
    finally:
        copy.close()


def backup(repository: SqlRepository, target: Path) -> list[TeamCount]:
    """
    Write a backup to a new file, and the keys of the living beside it; return what it holds.

    The file appears under its name only once it was checked, every box opened, and all is on the disk. An existing
    file is not replaced; ``people.keys`` is, since only the newest may stay.
    """
    if target.exists():
        raise StorageUnavailable(f"{target} is there already")
    target.parent.mkdir(parents=True, exist_ok=True)
    part = target.with_name(target.name + ".part")
    part.unlink(missing_ok=True)
    keys = _write(repository, part)
    found = check_file(part)
    check_boxes(part, keys)
    for left in ("-wal", "-shm"):
        part.with_name(part.name + left).unlink(missing_ok=True)
    flush(part)
    _write_keys(repository, target.parent)
    part.rename(target)
    flush(target.parent)
    return found
