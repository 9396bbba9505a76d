"""
The ledger: who saw whose body, took data out, printed, erased, invited, revoked.

Each row carries the hash of the row before it, so a row that was changed, removed or moved is found. Persons stand in
it as tags made with a key of their own; erasing a person destroys the key, and the chain stays whole.
"""

import hashlib
import hmac
from collections.abc import Iterable
from typing import Literal

import msgspec
from msgspec import Struct

from brinebook import clock
from brinebook.access.devices import DAY_MS, SignedIn, is_own_record
from brinebook.records.common import Role
from brinebook.storage.chain import LedgerRow
from brinebook.storage.repository import Repository

Act = Literal[
    "read", "exported", "printed", "copied", "invited", "joined", "revoked", "rotated", "erased", "restored",
    "kept", "left", "agreed", "withdrew", "wished", "unwished", "retained", "passkey_added", "passkey_removed",
    "months_set",
]
KEY_BYTES = 32
MOST_SHOWN = 300
NOBODY = ""
SERVER = "server"


class Entry(Struct, frozen=True, kw_only=True):
    """What is to be noted: who did what, about whom; ``what`` holds a word, never a health value."""

    act: Act
    by: str
    about: str = NOBODY
    device_id: str = ""
    what: str = ""


class Told(Struct, frozen=True, kw_only=True):
    """One row as the person it is about reads it; a ``by`` that was erased has no name."""

    n: int
    at_ms: int
    act: str
    what: str
    by_name: str
    by_role: Role | Literal["server", "erased"]
    is_own: bool


class Fault(Struct, frozen=True, kw_only=True):
    """Where a ledger stops being what was written."""

    n: int
    reason: Literal["altered", "missing", "cut_off"]


def _row_sha(team_id: str, row: LedgerRow, before: str) -> str:
    told = [before, team_id, row.n, row.at_ms, row.act, row.doer, row.device_id, row.subject, row.what]
    return hashlib.sha256(msgspec.json.encode(told)).hexdigest()


def beginning(team_id: str) -> str:
    """Name what the first row of a team follows."""
    return hashlib.sha256(f"brinebook ledger\n{team_id}".encode()).hexdigest()


def tag(repository: Repository, team_id: str, person_id: str, *, is_new: bool = False) -> str:
    """Give a person's tag; empty for nobody and for a person whose key was destroyed or never made."""
    if person_id in {NOBODY, SERVER}:
        return person_id
    key = repository.person_key(team_id, person_id)
    if key is None and is_new:
        repository.put_person_key(team_id, person_id, clock.random_bytes(KEY_BYTES))
        key = repository.person_key(team_id, person_id)
    return "" if key is None else hmac.new(key, person_id.encode(), hashlib.sha256).hexdigest()[:32]


def note(repository: Repository, team_id: str, entries: Iterable[Entry]) -> None:
    """Add entries to a team's ledger; they are on the disk when this returns, or with the running transaction."""
    wanted = list(entries)
    if not wanted:
        return
    with repository.transaction():
        repository.hold(team_id)
        n, sha = repository.ledger_head(team_id) or (0, beginning(team_id))
        rows: list[LedgerRow] = []
        for entry in wanted:
            n += 1
            row = LedgerRow(
                n=n, at_ms=clock.now_ms(), act=entry.act, doer=tag(repository, team_id, entry.by, is_new=True),
                device_id=entry.device_id, subject=tag(repository, team_id, entry.about, is_new=True),
                what=entry.what, sha="",
            )
            sha = _row_sha(team_id, row, sha)
            rows.append(msgspec.structs.replace(row, sha=sha))
        repository.add_ledger_rows(team_id, rows)


def did(who: SignedIn, act: Act, *, about: str = NOBODY, what: str = "") -> Entry:
    """Say what a signed-in person did."""
    return Entry(act=act, by=who.member.id, about=about, device_id=who.device.id, what=what)


def looked(repository: Repository, who: SignedIn, seen: Iterable[tuple[str, str]]) -> None:
    """
    Note whose records, and of which sort, go out to a person; each once a day and device.

    Noted before the answer leaves: when the ledger cannot be written, nothing is shown.
    """
    wanted = {one for one in seen if not is_own_record(who, one[0])}
    if not wanted:
        return
    since_ms = clock.now_ms() // DAY_MS * DAY_MS
    known = {
        (row.subject, row.what)
        for row in repository.ledger_of_device(who.team_id, who.device.id, since_ms=since_ms) if row.act == "read"
    }
    fresh = sorted(
        (about, what) for about, what in wanted if (tag(repository, who.team_id, about), what) not in known
    )
    note(repository, who.team_id, [did(who, "read", about=about, what=what) for about, what in fresh])


def about_me(repository: Repository, who: SignedIn) -> list[Told]:
    """Tell a person who looked at, took out or changed what is his; the newest first."""
    own = {tag(repository, who.team_id, id_) for id_ in (who.member.id, who.member.rider_id or NOBODY)} - {""}
    doers = {tag(repository, who.team_id, one.id): one for one in repository.members(who.team_id)}
    rows = repository.ledger_about(who.team_id, sorted(own), limit=MOST_SHOWN)
    return [
        Told(
            n=row.n, at_ms=row.at_ms, act=row.act, what=row.what, is_own=row.doer in own,
            by_name=doers[row.doer].name if row.doer in doers else "",
            by_role=doers[row.doer].role if row.doer in doers else ("server" if row.doer == SERVER else "erased"),
        )
        for row in rows
    ]


def verify(repository: Repository, team_id: str) -> Fault | None:
    """Go through a team's ledger and find the first row that is not as it was written; None when all are."""
    with repository.snapshot():
        rows, head = repository.ledger_rows(team_id), repository.ledger_head(team_id)
    sha = beginning(team_id)
    for expected, row in enumerate(rows, 1):
        if row.n != expected:
            return Fault(n=expected, reason="missing")
        sha = _row_sha(team_id, row, sha)
        if row.sha != sha:
            return Fault(n=row.n, reason="altered")
    if (head or (0, beginning(team_id))) != (len(rows), sha):
        return Fault(n=len(rows) + 1, reason="cut_off")
    return None
