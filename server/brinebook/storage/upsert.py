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
def _plain(dialect: Dialect, table: Table) -> tuple[str, tuple[str, ...]]:
    compiled = table.insert().compile(dialect=dialect)
    return str(compiled), tuple(getattr(compiled, "positiontup", None) or ())


def insert_many(connection: Connection, table: Table, rows: Rows) -> None:
    """
    Add new rows of plain values (text, whole numbers, bytes), given with all columns.

    The words of the statement are made once; the driver then takes the values as they are, without the price of
    working out each row anew.
    """
    statement, order = _plain(connection.dialect, table)
    values: Any = [tuple(row[name] for name in order) for row in rows] if order else list(rows)
    connection.exec_driver_sql(statement, values)


def put_once(connection: Connection, table: Table, rows: Rows) -> None:
    """Keep rows; one that breaks a rule of uniqueness is already there and is left out."""
    if rows:
        statement: Any = INSERTS[connection.dialect.name](table)
        connection.execute(statement.on_conflict_do_nothing(), list(rows))
