"""Backups: one SQLite file from either kind of database, taken while the server writes, and checked by opening it."""

import os
from pathlib import Path

from sqlalchemy import Connection, Table, func, select
from sqlmodel import SQLModel

from brinebook.storage.check import TeamCount, check_store
from brinebook.storage.database import Database
from brinebook.storage.errors import StorageUnavailable
from brinebook.storage.migrate import upgrade
from brinebook.storage.rows import table
from brinebook.storage.sql import SqlRepository
from brinebook.storage.sqlite import SqliteBackend

ROWS_AT_ONCE = 2000
TABLES: list[Table] = [one for one in SQLModel.metadata.sorted_tables if one.name != "alembic_version"]


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


def _write(repository: SqlRepository, part: Path) -> None:
    backend = repository.database.backend
    if isinstance(backend, SqliteBackend):
        with backend.plain() as connection:
            # One read transaction: writers go on beside it, and pages that were freed stay behind.
            connection.execute("VACUUM INTO ?", (str(part),))
        return
    copy = Database(SqliteBackend(part))
    try:
        upgrade(copy)
        with repository.database.reading() as source, copy.writing() as target:
            empty(target)
            copy_rows(source, target)
        copy.backend.scrub()
    finally:
        copy.close()


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
    Write a backup to a new file and return what it holds.

    The file appears under its name only once it was checked and is on the disk. An existing file is not replaced.
    """
    if target.exists():
        raise StorageUnavailable(f"{target} is there already")
    target.parent.mkdir(parents=True, exist_ok=True)
    part = target.with_name(target.name + ".part")
    part.unlink(missing_ok=True)
    _write(repository, part)
    found = check_file(part)
    for left in ("-wal", "-shm"):
        part.with_name(part.name + left).unlink(missing_ok=True)
    flush(part)
    part.rename(target)
    flush(target.parent)
    return found
