"""Runs the migrations that come with the package; no configuration file is needed."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import Engine

FOLDER = Path(__file__).parent / "migrations"


def upgrade(engine: Engine, revision: str = "head") -> None:
    """Bring the database to a revision."""
    config = Config()
    config.set_main_option("script_location", str(FOLDER))
    config.set_main_option("path_separator", "os")
    with engine.connect().execution_options(brinebook_writes=True) as connection, connection.begin():
        config.attributes["connection"] = connection
        command.upgrade(config, revision)
