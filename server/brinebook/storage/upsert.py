"""Insert or update in the words of whatever database a connection leads to."""

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Table
from sqlalchemy.dialects import postgresql, sqlite

INSERTS = {"sqlite": sqlite.insert, "postgresql": postgresql.insert}
Rows = Sequence[dict[str, Any]]


def put(connection: Connection, table: Table, rows: Rows) -> None:
    """Keep rows; one whose primary key is known takes the place of the old."""
    if not rows:
        return
    statement: Any = INSERTS[connection.dialect.name](table)
    keys = [column.name for column in table.primary_key]
    changed = {name: statement.excluded[name] for name in rows[0] if name not in keys}
    connection.execute(statement.on_conflict_do_update(index_elements=keys, set_=changed), list(rows))


def put_once(connection: Connection, table: Table, rows: Rows) -> None:
    """Keep rows; one that breaks a rule of uniqueness is already there and is left out."""
    if rows:
        statement: Any = INSERTS[connection.dialect.name](table)
        connection.execute(statement.on_conflict_do_nothing(), list(rows))
