"""What can be set from outside, read once."""

from collections.abc import Mapping
from pathlib import Path

from msgspec import Struct


class Settings(Struct, frozen=True, kw_only=True):
    """Where data and the built app are, and who answers for wake-ups."""

    data: Path
    dist: Path | None = None
    host: str = "127.0.0.1"
    port: int = 8000
    origin: str = ""
    database_url: str = ""
    """Address of a PostgreSQL database; empty means one SQLite file in the data folder."""
    push_contact: str = "mailto:operator@localhost.invalid"


def with_environment(settings: Settings, environment: Mapping[str, str]) -> Settings:
    """Take ``BRINEBOOK_ORIGIN``, ``BRINEBOOK_DATABASE_URL`` and ``BRINEBOOK_PUSH_CONTACT`` from the environment."""
    return Settings(
        data=settings.data, dist=settings.dist, host=settings.host, port=settings.port,
        origin=environment.get("BRINEBOOK_ORIGIN", settings.origin).rstrip("/"),
        database_url=environment.get("BRINEBOOK_DATABASE_URL", settings.database_url),
        push_contact=environment.get("BRINEBOOK_PUSH_CONTACT", settings.push_contact),
    )
