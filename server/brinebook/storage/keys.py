"""Passkeys: the contract of storage."""

from typing import Protocol

from msgspec import Struct


class Passkey(Struct, frozen=True, kw_only=True):
    """A public key that a person's device signs with. ``rp_id`` is the host it was made for."""

    id: str
    team_id: str
    member_id: str
    rp_id: str
    public_key: bytes
    n_signed: int
    name: str
    made_at_ms: int
    used_at_ms: int


class Keyed(Protocol):
    """Passkeys, and the challenges that were answered already."""

    def put_passkey(self, passkey: Passkey) -> None:
        """Keep a passkey, new or used."""

    def passkey(self, id_: str) -> Passkey | None:
        """Find a passkey, in whatever team: it is what names the person."""

    def passkeys_of(self, team_id: str, member_id: str) -> list[Passkey]:
        """List a member's passkeys, the oldest first."""

    def delete_passkeys(self, team_id: str, member_id: str, id_: str | None = None) -> int:
        """Forget one of a member's passkeys, or all; return how many."""

    def use_challenge(self, sha: str, expires_at_ms: int, now_ms: int) -> bool:
        """Note that a challenge was answered; False when it was before. Those out of date are forgotten."""
