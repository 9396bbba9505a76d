"""Secrets: made here, compared as hashes, never stored."""

import hashlib
import hmac
import secrets

CODE_LETTERS = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
CODE_LENGTH = 8


def sha(secret: str) -> str:
    """Give the form in which a secret is kept; all of them have at least 40 bits and 24 hours, or 128 bits."""
    return hashlib.sha256(secret.encode()).hexdigest()


def code() -> str:
    """Draw a code for typing: no letter that looks like a digit."""
    return "".join(secrets.choice(CODE_LETTERS) for _ in range(CODE_LENGTH))


def typed_code(text: str) -> str:
    """Read a typed code as it was meant."""
    return "".join(letter for letter in text.upper() if letter in CODE_LETTERS)


def device_token(server_key: bytes, invite_id: str, device_key: str) -> str:
    """Derive a device's token, so that joining again after a lost reply gives the same one."""
    return hmac.new(server_key, f"{invite_id}|{device_key}".encode(), hashlib.sha256).hexdigest()
