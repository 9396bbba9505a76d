"""The first migration makes tables that data survives; the newest ones are exactly those of ``rows``."""

from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from brinebook.storage.migrate import upgrade
from brinebook.storage.rows import table
from sqlalchemy import select
from sqlmodel import SQLModel


def test_the_migrated_database_equals_the_rows(empty):
    upgrade(empty)

    with empty.reading() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": False})
        differences = compare_metadata(context, SQLModel.metadata)

    assert differences == []


def test_data_survives_a_second_upgrade(empty):
    upgrade(empty)
    with empty.writing() as connection:
        connection.execute(table("store").insert().values(name="epoch", value="x"))

    upgrade(empty)

    with empty.reading() as connection:
        assert connection.scalar(select(table("store").c.value)) == "x"
