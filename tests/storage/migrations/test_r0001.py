"""The first migration makes exactly the tables of ``rows``; running it again changes nothing."""

from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from brinebook.storage.database import open_engine
from brinebook.storage.migrate import upgrade
from brinebook.storage.rows import table
from sqlalchemy import text
from sqlmodel import SQLModel


def test_the_migrated_database_equals_the_rows(tmp_path):
    engine = open_engine(tmp_path)
    upgrade(engine)

    with engine.connect() as connection:
        differences = compare_metadata(MigrationContext.configure(connection), SQLModel.metadata)

    engine.dispose()
    assert differences == []


def test_data_survives_a_second_upgrade(tmp_path):
    engine = open_engine(tmp_path)
    upgrade(engine)
    with engine.begin() as connection:
        connection.execute(table("store").insert().values(name="epoch", value="x"))

    upgrade(engine)

    with engine.connect() as connection:
        kept = connection.scalar(text("SELECT value FROM store"))
    engine.dispose()
    assert kept == "x"
