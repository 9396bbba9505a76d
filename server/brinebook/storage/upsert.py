"""Insert or update in the words of whatever database a connection leads to."""

from collections.abc import Sequence
from functools import cache
from typing import Any

from sqlalchemy import Connection, Dialect, Table
from sqlalchemy.dialects import postgresql, sqlite

INSERTS = {"sqlite": sqlite.insert, "postgresql": postgresql.insert}
Rows = Sequence[dict[str, Any]]


@cache
def _putting(dialect: str, table: Table, names: tuple[str, ...]) -> Any:
    statement: Any = INSERTS[dialect](table)
    keys = [column.name for column in table.primary_key]
    changed = {name: statement.excluded[name] for name in names if name not in keys}
    return statement.on_conflict_do_update(index_elements=keys, set_=changed)


def put(connection: Connection, table: Table, rows: Rows) -> None:
    """Keep rows; one whose primary key is known takes the place of the old."""
    if rows:
        connection.execute(_putting(connection.dialect.name, table, tuple(rows[0])), list(rows))


@cache
def _unnested(dialect: Dialect, table: Table, names: tuple[str, ...], *, is_put: bool) -> str:
    """
    Write an insert of many rows as one statement: each column comes as one array.

    Fifty rows are then one message and one plan instead of fifty, which halves what a batch costs PostgreSQL.
    """
    quote = dialect.identifier_preparer.quote
    columns = ", ".join(quote(name) for name in names)
    arrays = ", ".join(
        f"%b::{table.c[name].type.compile(dialect=dialect)}[]" for name in names
    )
    words = f"INSERT INTO {quote(table.name)} ({columns}) SELECT * FROM unnest({arrays})"  # noqa: S608 names of ours
    if not is_put:
        return words
    keys = [column.name for column in table.primary_key]
    changed = ", ".join(f"{quote(name)} = excluded.{quote(name)}" for name in names if name not in keys)
    return f"{words} ON CONFLICT ({', '.join(quote(name) for name in keys)}) DO UPDATE SET {changed}"


def _by_column(connection: Connection, table: Table, rows: Rows, *, is_put: bool) -> None:
    names = tuple(rows[0])
    values: Any = tuple([row[name] for row in rows] for name in names)
    connection.exec_driver_sql(_unnested(connection.dialect, table, names, is_put=is_put), values)


@cache
def _plain(dialect: Dialect, table: Table) -> tuple[str, tuple[str, ...]]:
    compiled = table.insert().compile(dialect=dialect)
    return str(compiled), tuple(getattr(compiled, "positiontup", None) or ())


def insert_many(connection: Connection, table: Table, rows: Rows) -> None:
    """
    Add new rows of plain values (text, whole numbers, bytes), given with all columns.

    The words of the statement are made once; the driver then takes the values as they are, without the price of
    working out each row anew.
    """
    if not rows:
        return
    if connection.dialect.name == "postgresql":
        _by_column(connection, table, rows, is_put=False)
        return
    statement, order = _plain(connection.dialect, table)
    values: Any = [tuple(row[name] for name in order) for row in rows]
    connection.exec_driver_sql(statement, values)


def put_many(connection: Connection, table: Table, rows: Rows) -> None:
    """Keep rows of plain values, no key twice; one whose primary key is known takes the place of the old."""
    if not rows:
        return
    if connection.dialect.name == "postgresql":
        _by_column(connection, table, rows, is_put=True)
    else:
        put(connection, table, rows)


def put_once(connection: Connection, table: Table, rows: Rows) -> None:
    """Keep rows; one that breaks a rule of uniqueness is already there and is left out."""
    if rows:
        statement: Any = INSERTS[connection.dialect.name](table)
        connection.execute(statement.on_conflict_do_nothing(), list(rows))
