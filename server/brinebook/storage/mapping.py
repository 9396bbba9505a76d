"""Row to record and back, one pair per record."""

from collections.abc import Mapping
from typing import Any

import msgspec
from msgspec import Raw, Struct

from brinebook.records import edited
from brinebook.records.facts import Event
from brinebook.records.wire import PulledEvent
from brinebook.storage.repository import Device, Invite, KnownEvent, NewEvent, StoredDocument, Subscription

Row = Mapping[str, Any]

TYPE_NAMES: dict[type[edited.Edited], str] = {
    edited.Team: "team",
    edited.Member: "member",
    edited.Rider: "rider",
    edited.RiderBody: "rider_body",
    edited.Drink: "drink",
    edited.Food: "food",
    edited.Stage: "stage",
}


def _fields(record: Struct) -> dict[str, Any]:
    return {name: getattr(record, name) for name in record.__struct_fields__}


def edited_row(team_id: str, record: edited.Edited) -> dict[str, Any]:
    """Give the row of an edited record."""
    return {
        "team_id": team_id, "type": TYPE_NAMES[type(record)], "id": record.id, "version": record.version,
        "body": msgspec.json.encode(record),
    }


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
        "by": event.by, "sha": new.sha, "received_at_ms": new.received_at_ms, "raw": new.raw,
    }


def quarantine_row(team_id: str, new: NewEvent, reason: str) -> dict[str, Any]:
    """Give the row of a body kept aside."""
    return {
        "team_id": team_id, "id": new.event.id, "sha": new.sha, "reason": reason,
        "received_at_ms": new.received_at_ms, "raw": new.raw,
    }


def known_event(row: Row) -> KnownEvent:
    """Read what identifies an event."""
    return KnownEvent(
        id=row["id"], seq=row["seq"], sha=row["sha"], kind=row["kind"], subject_id=row["subject_id"], by=row["by"],
    )


def pulled_event(row: Row) -> PulledEvent:
    """Read an event as it travels."""
    return PulledEvent(seq=row["seq"], event=Raw(row["raw"]))


def event_record(row: Row) -> Event:
    """Read an event as the use cases see it."""
    return msgspec.json.decode(row["raw"], type=Event)


def document_record(row: Row) -> StoredDocument:
    """Read a document's head."""
    return StoredDocument(
        seq=row["seq"], id=row["id"], type=row["type"], subject_id=row["subject_id"], sha=row["sha"], body=row["body"],
    )
