"""Secrets: made here, compared as hashes, never stored."""

import hashlib
import hmac
import secrets

CODE_LETTERS = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
CODE_LENGTH = 8
CODE_COST = 2**14
"""Of scrypt, with blocks of 8: 16 MB and some 0.04 s a try, enough for a secret by chance that lives for a day."""


def sha(secret: str) -> str:
    """Give the form in which a secret of 128 bits or more is kept."""
    return hashlib.sha256(secret.encode()).hexdigest()


def code_sha(code: str, salt: bytes) -> str:
    """Give the form in which a typed code is kept: slow to try out, since its 40 bits can be gone through in a day."""
    return hashlib.scrypt(code.encode(), salt=salt, n=CODE_COST, r=8, p=1, dklen=32).hex()


def code() -> str:
    """Draw a code for typing: no letter that looks like a digit."""
    return "".join(secrets.choice(CODE_LETTERS) for _ in range(CODE_LENGTH))


def typed_code(text: str) -> str:
    """Read a typed code as it was meant."""
    return "".join(letter for letter in text.upper() if letter in CODE_LETTERS)


def device_token(server_key: bytes, invite_id: str, device_key: str) -> str:
    """Derive a device's token, so that joining again after a lost reply gives the same one."""
    return hmac.new(server_key, f"{invite_id}|{device_key}".encode(), hashlib.sha256).hexdigest()
