"""Whose a row is: every table is either about nobody, left out of backups, or has an answer for each of its rows."""

from collections.abc import Callable, Mapping
from typing import Any

import msgspec
from sqlalchemy import Connection, select

from brinebook.records.edited import Stage
from brinebook.storage import mapping
from brinebook.storage.rows import table
from brinebook.storage.sql_erasure import OF_A_PERSON, subject_of

ABOUT_NOBODY = frozenset({
    "store", "team_counter", "erased_subject", "answered_challenge", "ledger", "ledger_head", "kept_months",
})
"""Counters, secrets of the store, ids of the erased, and the ledger, in which persons stand as tags."""
LEFT_OUT = frozenset({"person_key", "pending_change"})
"""Keys never lie in a backup; what waits to be computed is computed anew after a restore."""
STAGE = mapping.TYPE_NAMES[Stage]
ERASE = "erase"
Row = Mapping[str, Any]
_OF_MEMBER = ("device", "invite", "passkey", "push_subscription", "notice_answer")


class People:
    """Who is who in one state of a store: members by their rider, keys by person."""

    def __init__(self, connection: Connection) -> None:
        edited, erased, keys = table("edited"), table("erased_subject"), table("person_key")
        self.erased = {(row[0], row[1]) for row in connection.execute(select(erased.c.team_id, erased.c.subject_id))}
        self.keys: dict[tuple[str, str], bytes] = {
            (row[0], row[1]): row[2] for row in connection.execute(select(keys.c.team_id, keys.c.person_id, keys.c.key))
        }
        self._subjects: dict[tuple[str, str], str] = {}
        self._ids: dict[str, dict[bytes, str]] = {}
        wanted = select(edited.c.team_id, edited.c.id, edited.c.body).where(edited.c.type == "member")
        for team_id, id_, body in connection.execute(wanted):
            self._subjects[team_id, id_] = msgspec.json.decode(body).get("rider_id") or id_

    def person(self, team_id: str, id_: str) -> str:
        """Name the person behind an id; empty for nobody, for the team itself and for the erased."""
        subject_id = self._subjects.get((team_id, id_), id_)
        return "" if subject_id in {"", team_id} or (team_id, subject_id) in self.erased else subject_id

    def living(self, team_id: str) -> frozenset[str]:
        """Name everybody of a team who has a key."""
        return frozenset(self._by_id(team_id).values())

    def _by_id(self, team_id: str) -> dict[bytes, str]:
        """Give, for each id of somebody with a key as it stands in JSON, the person."""
        if team_id not in self._ids:
            own = {person for of, person in self.keys if of == team_id and self.person(of, person) == person}
            ids = own | {id_ for of, id_ in self._subjects if of == team_id and self.person(of, id_) in own}
            self._ids[team_id] = {b'"%b"' % id_.encode(): self.person(team_id, id_) for id_ in ids}
        return self._ids[team_id]

    def named(self, team_id: str, body: bytes) -> tuple[str, ...]:
        """Find which living persons a text of the team names, by their ids."""
        return tuple(sorted({person for told, person in self._by_id(team_id).items() if told in body}))

    def owner(self, name: str, row: Row) -> str:
        """Name whose a row is; empty for what is about nobody."""
        return self.person(row["team_id"], OWNER_ID[name](row))


def _of_event(row: Row) -> str:
    return "" if row["kind"] == ERASE else str(row["subject_id"])


def _of_digest(row: Row) -> str:
    return "" if row["disclosed_as"] == ERASE else str(row["subject_id"])


def _of_document(row: Row) -> str:
    return "" if row["body"] is None else str(row["subject_id"])


def _of_edited(row: Row) -> str:
    return str(row["id"]) if row["type"] in OF_A_PERSON else ""


OWNER_ID: dict[str, Callable[[Row], str]] = {
    "event": _of_event,
    "event_digest": _of_digest,
    "document": _of_document,
    "edited": _of_edited,
    "quarantine": lambda row: subject_of(row["raw"]),
    "erasure_wish": lambda row: str(row["subject_id"]),
    **dict.fromkeys(_OF_MEMBER, lambda row: str(row["member_id"])),
}


def everybody(connection: Connection, people: People) -> set[tuple[str, str]]:
    """Name all persons of whom this state of the store holds anything."""
    found: set[tuple[str, str]] = set()

    def add(team_id: str, id_: str) -> None:
        person = people.person(team_id, id_)
        if person:
            found.add((team_id, person))

    for name, column in (("event", "subject_id"), ("document", "subject_id"), ("erasure_wish", "subject_id"),
                         *((name, "member_id") for name in _OF_MEMBER)):
        one = table(name)
        for team_id, id_ in connection.execute(select(one.c.team_id, one.c[column]).distinct()):
            add(team_id, id_)
    quarantine, edited = table("quarantine"), table("edited")
    for team_id, raw in connection.execute(select(quarantine.c.team_id, quarantine.c.raw)):
        add(team_id, subject_of(raw))
    for team_id, id_ in connection.execute(
        select(edited.c.team_id, edited.c.id).where(edited.c.type.in_(OF_A_PERSON)),
    ):
        add(team_id, id_)
    return found
