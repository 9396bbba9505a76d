"""
The server's seal under a fact it has taken: after a restore, whoever holds the fact can hand it back.

The store may have forgotten the fact, its author or his role; a seal that fits says that this team's book once held
exactly these words under this id, so they are taken again without asking who may write them now.
"""

import base64
import hashlib
import hmac

DIGEST_BYTES = 12
"""96 bits: nobody guesses one at 200 tries a request."""


def seal_of(key: bytes, team_id: str, id_: str, sha: str) -> str:
    """Seal a fact: 16 signs that only this store can make for this team, id and content."""
    digest = hashlib.blake2b(f"{team_id}\n{id_}\n{sha}".encode(), key=key, digest_size=DIGEST_BYTES)
    return base64.urlsafe_b64encode(digest.digest()).decode()


def is_sealed(key: bytes, team_id: str, id_: str, sha: str, seal: str) -> bool:
    """Tell whether a seal is ours."""
    return hmac.compare_digest(seal_of(key, team_id, id_, sha).encode(), seal.encode())
