"""Row to record and back, one pair per record."""

from collections.abc import Mapping, Sequence
from typing import Any

import msgspec
from msgspec import Struct

from brinebook.records import edited
from brinebook.records.facts import Event
from brinebook.storage.repository import (
    Device,
    Invite,
    KnownEvent,
    NewDocument,
    NewEvent,
    StoredDocument,
    StoredEvent,
    SubjectDigest,
    Subscription,
)

Row = Mapping[str, Any]
Values = Sequence[Any]
"""The columns of a row in the order they were asked for: reading by place is several times quicker than by name."""

TYPE_NAMES: dict[type[edited.Edited], str] = {
    edited.Team: "team",
    edited.Member: "member",
    edited.Rider: "rider",
    edited.RiderBody: "rider_body",
    edited.Drink: "drink",
    edited.Food: "food",
    edited.Supply: "supply",
    edited.RiderPalate: "rider_palate",
    edited.Kit: "kit",
    edited.PlanGoals: "plan_goals",
    edited.Stage: "stage",
}


COURSE_POINTS_ON_PHONES = 300
OF_A_PERSON = (edited.Member, edited.Rider, edited.RiderBody, edited.RiderPalate)


def _fields(record: Struct) -> dict[str, Any]:
    return {name: getattr(record, name) for name in record.__struct_fields__}


def edited_row(team_id: str, record: edited.Edited) -> dict[str, Any]:
    """Give the row of an edited record."""
    return {
        "team_id": team_id, "type": TYPE_NAMES[type(record)], "id": record.id, "version": record.version,
        "body": msgspec.json.encode(record),
    }


def thinned(course: list[edited.CoursePoint]) -> list[edited.CoursePoint]:
    """Keep at most some 300 points of a course, evenly by place in the list, ends included."""
    n_steps = COURSE_POINTS_ON_PHONES - 1
    if len(course) <= COURSE_POINTS_ON_PHONES:
        return course
    return [course[round(step * (len(course) - 1) / n_steps)] for step in range(n_steps + 1)]


def edited_document(record: edited.Edited) -> NewDocument:
    """Give the document by which an edited record reaches the phones; a long course travels thinned."""
    name = TYPE_NAMES[type(record)]
    subject_id = record.id if isinstance(record, OF_A_PERSON) else ""
    travels = record
    if isinstance(record, edited.Stage):
        travels = msgspec.structs.replace(record, course=thinned(record.course))
    body = msgspec.json.encode(travels)
    return NewDocument(id=f"{name}:{record.id}", type=name, subject_id=subject_id, body=body)


def device_row(device: Device) -> dict[str, Any]:
    """Give the row of a device."""
    return _fields(device)


def device_record(row: Row) -> Device:
    """Read a device."""
    return msgspec.convert(dict(row), Device)


def invite_row(invite: Invite) -> dict[str, Any]:
    """Give the row of an invitation."""
    return _fields(invite)


def invite_record(row: Row) -> Invite:
    """Read an invitation."""
    return msgspec.convert(dict(row), Invite)


def subscription_row(subscription: Subscription) -> dict[str, Any]:
    """Give the row of a wake-up address."""
    return _fields(subscription)


def subscription_record(row: Row) -> Subscription:
    """Read a wake-up address."""
    return msgspec.convert(dict(row), Subscription)


def event_row(team_id: str, seq: int, new: NewEvent) -> dict[str, Any]:
    """Give the row of an accepted event."""
    event = new.event
    return {
        "team_id": team_id, "id": event.id, "seq": seq, "kind": event.kind, "subject_id": event.subject_id,
        "by": event.by, "disclosed_as": new.disclosed_as, "sha": new.sha, "received_at_ms": new.received_at_ms,
        "raw": new.raw,
    }


def quarantine_row(team_id: str, new: NewEvent, reason: str) -> dict[str, Any]:
    """Give the row of a body kept aside."""
    return {
        "team_id": team_id, "id": new.event.id, "sha": new.sha, "reason": reason,
        "received_at_ms": new.received_at_ms, "raw": new.raw,
    }


def known_event(row: Values) -> KnownEvent:
    """Read what identifies an event, from the columns in the order of ``sql_facts.KEYS``."""
    id_, seq, sha, kind, subject_id, by, disclosed_as = row
    return KnownEvent(
        id=id_, seq=seq, sha=sha, kind=kind, subject_id=subject_id, by=by, disclosed_as=disclosed_as,
    )


def stored_event(row: Values) -> StoredEvent:
    """Read an event of the sequence, from the columns in the order of ``sql_facts.PLACES``."""
    seq, subject_id, disclosed_as, raw, id_, sha = row
    return StoredEvent(seq=seq, subject_id=subject_id, disclosed_as=disclosed_as, raw=raw, id=id_, sha=sha)


def digest_row(team_id: str, digest: SubjectDigest) -> dict[str, Any]:
    """Give the row of a digest; SQLite has no unsigned 64-bit integer, so it is kept as hexadecimal text."""
    return {
        "team_id": team_id, "subject_id": digest.subject_id, "disclosed_as": digest.disclosed_as,
        "n_events": digest.n_events, "xor64_hex": f"{digest.xor64:016x}",
    }


def digest_record(row: Values) -> SubjectDigest:
    """Read a digest: subject, kind, count and mix."""
    subject_id, disclosed_as, n_events, xor64_hex = row
    return SubjectDigest(
        subject_id=subject_id, disclosed_as=disclosed_as, n_events=n_events, xor64=int(xor64_hex, 16),
    )


def event_record(row: Row) -> Event:
    """Read an event as the use cases see it."""
    return msgspec.json.decode(row["raw"], type=Event)


def document_record(row: Row) -> StoredDocument:
    """Read a document's head."""
    return StoredDocument(
        seq=row["seq"], id=row["id"], type=row["type"], subject_id=row["subject_id"], sha=row["sha"], body=row["body"],
    )
