"""The opaque id of a bottle and its QR matrix: a bare code, new for every race day, that names nobody."""

import hashlib
from functools import lru_cache

import segno

from brinebook.records.edited import Stage

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Without I, L, O and U, which read like 1, 0 and V."""
N_SIGNS = 8
PREFIX = "B/"
QR_SIDE_N = 21
"""Ten signs of the alphanumeric set fit version 1 at level H, which reads with 30 % of the label gone."""
DAY_MS = 86_400_000


def code_of(team_id: str, stage: Stage, parts: tuple[str, ...]) -> str:
    """Name one bottle of one race day; another rider, drink, place or number is another code."""
    told = "\n".join((team_id, stage.id, str(stage.start_at_ms // DAY_MS), *parts))
    number = int.from_bytes(hashlib.sha256(told.encode()).digest()[:5], "big")
    signs = []
    for _ in range(N_SIGNS):
        number, place = divmod(number, len(ALPHABET))
        signs.append(ALPHABET[place])
    return "".join(signs)


@lru_cache(maxsize=4096)
def qr_hex(code: str) -> str:
    """Return the modules of a code's QR, row by row from the top left, as hexadecimal bits; 1 is dark."""
    made = segno.make_qr(PREFIX + code, version=1, error="h", mode="alphanumeric", boost_error=False)
    bits = "".join(str(module & 1) for row in made.matrix for module in row)
    return f"{int(bits, 2):0{-(-len(bits) // 4)}x}"


def modules_of(qr: str, side: int = QR_SIDE_N) -> list[list[bool]]:
    """Read the modules back, row by row."""
    bits = f"{int(qr, 16):0{side * side}b}"
    return [[bit == "1" for bit in bits[row * side: (row + 1) * side]] for row in range(side)]
