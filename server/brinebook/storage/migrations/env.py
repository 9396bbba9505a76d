"""What Alembic runs: the connection comes from ``brinebook.storage.migrate``."""

from alembic import context
from brinebook.storage import rows
from sqlmodel import SQLModel

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=SQLModel.metadata,
    transactional_ddl=False,
    transaction_per_migration=False,
)
context.run_migrations()

__all__ = ["rows"]
