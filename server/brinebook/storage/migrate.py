"""Runs the migrations that come with the package; no configuration file is needed."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import text

from brinebook.storage.database import Database

FOLDER = Path(__file__).parent / "migrations"
_ALONE = text("SELECT pg_advisory_xact_lock(hashtext('brinebook migrations'))")


def upgrade(database: Database, revision: str = "head") -> None:
    """Bring the database to a revision, in one transaction; a second server that starts meanwhile waits."""
    config = Config()
    config.set_main_option("script_location", str(FOLDER))
    config.set_main_option("path_separator", "os")
    with database.writing() as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(_ALONE)
        config.attributes["connection"] = connection
        command.upgrade(config, revision)
