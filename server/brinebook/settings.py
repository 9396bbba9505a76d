"""What can be set from outside, read once."""

import stat
from collections.abc import Mapping
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace


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
    metrics_token: str = ""
    """Who may read ``/metrics`` from elsewhere; empty means this machine alone."""
    tls_cert: Path | None = None
    tls_key: Path | None = None


def with_environment(settings: Settings, environment: Mapping[str, str]) -> Settings:
    """Take ``BRINEBOOK_ORIGIN``, ``_DATABASE_URL``, ``_PUSH_CONTACT`` and ``_METRICS_TOKEN`` from the environment."""
    return replace(
        settings,
        origin=environment.get("BRINEBOOK_ORIGIN", settings.origin).rstrip("/"),
        database_url=environment.get("BRINEBOOK_DATABASE_URL", settings.database_url),
        metrics_token=environment.get("BRINEBOOK_METRICS_TOKEN", settings.metrics_token),
        push_contact=environment.get("BRINEBOOK_PUSH_CONTACT", settings.push_contact),
    )


def tls_refusal(settings: Settings) -> str | None:
    """Say why the TLS files cannot be served with; None when they can, or when there are none."""
    if settings.tls_cert is None and settings.tls_key is None:
        return None
    for name, path in (("--tls-cert", settings.tls_cert), ("--tls-key", settings.tls_key)):
        if path is None or not path.is_file():
            return f"{name} is {path}: it needs a file, and the two go together"
    if settings.tls_key is not None and settings.tls_key.stat().st_mode & stat.S_IRWXO:
        return f"--tls-key is {settings.tls_key}: everybody on this machine may read it; chmod 600"
    return None
