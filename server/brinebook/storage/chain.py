"""Rows of the chained ledger and the keys that tie them to persons: the contract of storage."""

from collections.abc import Sequence
from typing import Protocol

from msgspec import Struct


class LedgerRow(Struct, frozen=True, kw_only=True):
    """
    One line of a team's ledger.

    ``doer`` and ``subject`` are tags made with a person's own key: without the key, nobody can be told from them.
    ``sha`` covers the row and the ``sha`` of the row before.
    """

    n: int
    at_ms: int
    act: str
    doer: str
    device_id: str
    subject: str
    what: str
    sha: str


class Chained(Protocol):
    """The ledger: rows are added, never changed; each person has a key that erasing destroys."""

    def person_key(self, team_id: str, person_id: str) -> bytes | None:
        """Read a person's key."""

    def put_person_key(self, team_id: str, person_id: str, key: bytes) -> None:
        """Keep a new person's key; an existing one stays."""

    def destroy_person_keys(self, team_id: str, person_ids: Sequence[str]) -> None:
        """Forget keys for ever: what was tagged with them is nobody's from then on."""

    def ledger_head(self, team_id: str) -> tuple[int, str] | None:
        """Read the number and the sha of the last row as noted beside the ledger; None before the first."""

    def add_ledger_rows(self, team_id: str, rows: Sequence[LedgerRow]) -> None:
        """Add rows and note the last one beside the ledger."""

    def ledger_rows(self, team_id: str) -> list[LedgerRow]:
        """Read the whole ledger in order."""

    def ledger_of_device(self, team_id: str, device_id: str, *, since_ms: int) -> list[LedgerRow]:
        """Read what a device did of late."""

    def ledger_about(self, team_id: str, subjects: Sequence[str], *, limit: int) -> list[LedgerRow]:
        """Read the newest rows with one of these tags."""
