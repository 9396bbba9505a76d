"""The only clock and the only entropy."""

import secrets
import time
import uuid

TIME_ORDERED = 7


def now_ms() -> int:
    """Read the wall clock in milliseconds since the epoch."""
    return time.time_ns() // 1_000_000


def secret(n_bytes: int = 32) -> str:
    """Draw a URL-safe secret."""
    return secrets.token_urlsafe(n_bytes)


def new_id() -> str:
    """Make a time-ordered UUIDv7."""
    stamp = now_ms().to_bytes(6, "big")
    raw = bytearray(stamp + secrets.token_bytes(10))
    raw[6] = 0x70 | (raw[6] & 0x0F)
    raw[8] = 0x80 | (raw[8] & 0x3F)
    return str(uuid.UUID(bytes=bytes(raw)))


def instant_of_id(id_: str) -> int:
    """Read when an id of ``new_id`` was made, in milliseconds; 0 of any other."""
    try:
        found = uuid.UUID(id_)
    except ValueError:
        return 0
    return found.int >> 80 if found.version == TIME_ORDERED else 0


def random_bytes(n_bytes: int) -> bytes:
    """Draw bytes nobody can guess."""
    return secrets.token_bytes(n_bytes)
