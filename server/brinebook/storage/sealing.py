"""
Boxes: rows about a person, packed and encrypted under that person's own key (AES-256-GCM, NIST SP 800-38D).

Each backup derives its own keys from the persons' (HKDF, RFC 5869, salted with the backup's id), so nonces never meet
twice; a box is bound to its backup, its team, its owners, its place and whether it is the last, so that none can be
altered, moved, exchanged with another or cut off unseen. What is about several persons opens with the keys of all.
"""

import secrets
import zlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import msgspec
from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from msgspec import Struct

from brinebook.storage.errors import StoreDamaged
from brinebook.storage.people_keys import Keys

FORM = 1
KEY_BYTES, NONCE_BYTES, ID_BYTES = 32, 12, 16
ROWS_A_BOX, BYTES_A_BOX = 400, 256_000
MOST_UNPACKED_BYTES = 256_000_000
Owners = tuple[str, ...]
Row = dict[str, Any]


class Item(Struct, frozen=True, array_like=True):
    """A row of a table; or, with ``share``, one person's entry in a record of the team: field, place, person, value."""

    table: str
    row: Row
    share: tuple[str, int, str, Any] | None = None


class Box(Struct, frozen=True, kw_only=True):
    """What stands in a backup: whose, which in the line of his boxes, and what nobody reads without his key."""

    team_id: str
    owners: Owners
    n: int
    is_last: bool
    nonce: bytes
    sealed: bytes


def _bound_to(backup_id: bytes, box: Box) -> bytes:
    return msgspec.msgpack.encode([FORM, backup_id, box.team_id, list(box.owners), box.n, box.is_last])


def _cipher(backup_id: bytes, keys: Keys, team_id: str, owners: Owners) -> AESGCM | None:
    """Derive the key of these owners for this backup; None when one of them has no key."""
    found = [keys.get((team_id, owner)) for owner in owners]
    if any(key is None for key in found):
        return None
    derived = HKDF(SHA256(), KEY_BYTES, salt=backup_id, info=b"brinebook backup")
    return AESGCM(derived.derive(b"".join(key for key in found if key is not None)))


@dataclass
class _Open:
    """A box in the making."""

    cipher: AESGCM
    n: int = 0
    n_bytes: int = 0
    items: list[Item] = field(default_factory=list)


class Packer:
    """Gathers rows by owner and gives boxes as they fill."""

    def __init__(self, keys: Keys) -> None:
        self.backup_id = secrets.token_bytes(ID_BYTES)
        self._keys = keys
        self._open: dict[tuple[str, Owners], _Open] = {}

    def add(self, team_id: str, owners: Owners, item: Item, n_bytes: int) -> Iterator[Box]:
        """Put a row into its owners' box; gives the box before it, where that was full."""
        place = (team_id, owners)
        if place not in self._open:
            cipher = _cipher(self.backup_id, self._keys, team_id, owners)
            if cipher is None:
                raise StoreDamaged("person_key", team_id, f"no key for {', '.join(owners)}")
            self._open[place] = _Open(cipher)
        one = self._open[place]
        if len(one.items) >= ROWS_A_BOX or one.n_bytes >= BYTES_A_BOX:
            yield self._closed(place, one, is_last=False)
        one.items.append(item)
        one.n_bytes += n_bytes

    def rest(self) -> Iterator[Box]:
        """Give the last box of everybody."""
        for place, one in self._open.items():
            yield self._closed(place, one, is_last=True)

    def _closed(self, place: tuple[str, Owners], one: _Open, *, is_last: bool) -> Box:
        packed = zlib.compress(msgspec.msgpack.encode(one.items), 6)
        empty = Box(
            team_id=place[0], owners=place[1], n=one.n, is_last=is_last, nonce=secrets.token_bytes(NONCE_BYTES),
            sealed=b"",
        )
        sealed = one.cipher.encrypt(empty.nonce, packed, _bound_to(self.backup_id, empty))
        one.n, one.n_bytes, one.items = one.n + 1, 0, []
        return msgspec.structs.replace(empty, sealed=sealed)


class Unpacker:
    """Opens boxes with the keys there are, and says whose box is wrong, and how."""

    def __init__(self, backup_id: bytes, keys: Keys) -> None:
        self._backup_id, self._keys = backup_id, keys

    def has_keys(self, team_id: str, owners: Owners) -> bool:
        """Tell whether all keys are there."""
        return all((team_id, owner) in self._keys for owner in owners)

    def items(self, team_id: str, owners: Owners, boxes: Iterable[Box]) -> Iterator[Item]:
        """
        Give what one line of boxes holds, in order.

        Raises ``StoreDamaged`` for a wrong key, a box that is missing, moved or altered, and a line that was cut off.
        """
        cipher = _cipher(self._backup_id, self._keys, team_id, owners)
        told, n, is_ended = ", ".join(owners), 0, False
        if cipher is None:
            return
        for box in boxes:
            if box.n != n or is_ended:
                raise StoreDamaged("sealed_box", team_id, f"what is about {told}: box {n} is missing")
            yield from self._opened(cipher, box, told)
            n, is_ended = n + 1, box.is_last
        if not is_ended:
            raise StoreDamaged("sealed_box", team_id, f"what is about {told}: cut off after {n} boxes")

    def _opened(self, cipher: AESGCM, box: Box, told: str) -> Iterator[Item]:
        try:
            packed = cipher.decrypt(box.nonce, box.sealed, _bound_to(self._backup_id, box))
        except InvalidTag:
            wrong = f"what is about {told}: box {box.n} does not open: the key is another one, or the box was altered"
            raise StoreDamaged("sealed_box", box.team_id, f"{wrong} or moved") from None
        unpacking = zlib.decompressobj()
        whole = unpacking.decompress(packed, MOST_UNPACKED_BYTES)
        if not unpacking.eof:
            raise StoreDamaged("sealed_box", box.team_id, f"what is about {told}: box {box.n} is too large")
        yield from msgspec.msgpack.decode(whole, type=list[Item])


def without(record: Mapping[str, Any], *, living: frozenset[str]) -> tuple[Row, list[tuple[str, int, str, Any]]]:
    """Take out of a team's record, as plain JSON, what its maps by rider hold of the living; give both parts."""
    left, shares = dict(record), list[tuple[str, int, str, Any]]()
    for name in (name for name in record if name.endswith("_by_rider")):
        entries = list(record[name].items())
        shares += [(name, place, who, value) for place, (who, value) in enumerate(entries) if who in living]
        left[name] = {who: value for who, value in entries if who not in living}
    return left, shares


def with_shares(record: Mapping[str, Any], shares: Iterable[tuple[str, int, str, Any]]) -> Row:
    """Put entries back to their places; with all of them there, the record is what it was, to the order."""
    whole = dict(record)
    for name, place, who, value in sorted(shares, key=lambda one: (one[0], one[1])):
        entries = list(whole.get(name, {}).items())
        entries.insert(place, (who, value))
        whole[name] = dict(entries)
    return whole
