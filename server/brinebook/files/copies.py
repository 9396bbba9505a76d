"""Everything held about the person who asks, as that person may see it: JSON, CSV and a PDF in one archive."""

import hashlib
import io
import zipfile
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import msgspec
from msgspec import Raw

from brinebook import __version__
from brinebook.access import disclosure, ledger
from brinebook.access.devices import SignedIn, own_devices
from brinebook.files.exports import Table, to_csv
from brinebook.records.edited import Drink, Food, Stage
from brinebook.records.facts import Event
from brinebook.sheets.errors import PaperUnavailable
from brinebook.sheets.markup import Paper
from brinebook.sheets.own_copy import Names, OwnCopy, own_copy_html
from brinebook.sheets.pdf import pdf_apart
from brinebook.storage.repository import Repository, StoredEvent
from brinebook.words import say

ROWS_AT_ONCE = 1000
ZIP_DATE = (1980, 1, 1, 0, 0, 0)
Held = dict[str, list[dict[str, Any]]]


def _events(repository: Repository, who: SignedIn) -> Iterator[StoredEvent]:
    seq = 0
    while rows := repository.events_after(who.team_id, seq, ROWS_AT_ONCE):
        for row in rows:
            if disclosure.may_read_fact(who.member, row.disclosed_as, row.subject_id):
                yield row
        seq = rows[-1].seq


def _facts(repository: Repository, who: SignedIn, ids: frozenset[str]) -> tuple[list[Any], list[Any]]:
    """Read the facts about the person, and of those noted for others the bare lines."""
    own: list[dict[str, Any]] = []
    noted: list[dict[str, Any]] = []
    for row in _events(repository, who):
        event = msgspec.json.decode(row.raw, type=Event)
        if row.subject_id in ids:
            own.append(msgspec.json.decode(row.raw))
        elif event.by == who.member.id:
            noted.append({"id": event.id, "kind": event.kind, "at": instant(event.at_ms)})
    return own, noted


def held(repository: Repository, who: SignedIn) -> Held:
    """Gather what is held about a person, cut by the table of readers as for any of his phones."""
    team_id, member = who.team_id, who.member
    ids = frozenset({member.id, member.rider_id or member.id})
    with repository.snapshot(disclosure.eyes_of(team_id, member)):
        facts, noted = _facts(repository, who, ids)
        documents = [
            {"id": one.id, "type": one.type, "body": Raw(one.body)} for one in repository.documents(team_id)
            if one.subject_id in ids and one.body is not None
            and disclosure.may_read_document(member, one.type, one.subject_id)
        ]
    aside = [msgspec.json.decode(raw) for raw in repository.aside_about(team_id, ids)]
    alerts = [one for one in repository.subscriptions(team_id) if one.member_id == member.id]
    wish = repository.wish(team_id, member.rider_id or member.id)
    return {
        "person": [{"id": member.id, "name": member.name, "role": member.role, "rider_id": member.rider_id}],
        "facts": facts,
        "records": documents,
        "noted_for_others": noted,
        "set_aside": aside,
        "devices": [
            {"id": one.id, "name": one.name, "joined_at": instant(one.joined_at_ms), "seen_at": instant(one.seen_at_ms)}
            for one in own_devices(repository, who)
        ],
        "passkeys": [
            {"name": one.name, "for": one.rp_id, "made_at": instant(one.made_at_ms), "used_at": instant(one.used_at_ms)}
            for one in repository.passkeys_of(team_id, member.id)
        ],
        "wake_up_addresses": [{"device_id": one.device_id, "endpoint": one.endpoint} for one in alerts],
        "answers": [
            {"notice": one.notice, "version": one.version, "is_agreed": one.is_agreed, "at": instant(one.at_ms)}
            for one in repository.answers(team_id, member.id)
        ],
        "wish_to_be_forgotten": [] if wish is None else [
            {"asked_at": instant(wish.asked_at_ms), "due_at": instant(wish.due_at_ms)},
        ],
        "who_looked": [
            {"n": one.n, "at": instant(one.at_ms), "act": one.act, "what": one.what, "by": one.by_name,
             "by_role": one.by_role}
            for one in ledger.about_me(repository, who)
        ],
    }


def instant(at_ms: int) -> str:
    """Write an instant as ISO 8601 in UTC."""
    return datetime.fromtimestamp(at_ms / 1000, UTC).isoformat(timespec="milliseconds")


def table_of(name: str, rows: list[dict[str, Any]]) -> Table:
    """Make a table of rows that are alike; what is not a plain cell stands as JSON."""
    columns = tuple(dict.fromkeys(key for row in rows for key in row))
    return Table(name, columns, tuple(tuple(_cell(row.get(column)) for column in columns) for row in rows))


def _cell(value: Any) -> Any:
    if value is None or isinstance(value, str | int | float | bool):
        return value
    return msgspec.json.encode(value).decode()


def _document(repository: Repository, who: SignedIn, parts: Held, sum_of_json: str, *, now_ms: int) -> OwnCopy:
    team = repository.team(who.team_id)
    zone = ZoneInfo(team.time_zone)
    items: list[Drink | Food] = [
        *repository.all_edited(who.team_id, Drink), *repository.all_edited(who.team_id, Food),
    ]
    return OwnCopy(
        parts=msgspec.json.decode(msgspec.json.encode(parts)),
        names=Names(
            people={one.id: one.name for one in repository.members(who.team_id)},
            items={one.id: one.name for one in items},
            stages={one.id: one.name for one in repository.all_edited(who.team_id, Stage)},
        ),
        own_ids=frozenset({who.member.id, who.member.rider_id or who.member.id}), team_name=team.name, zone=zone,
        made_at=datetime.fromtimestamp(now_ms / 1000, zone), sum_of_json=sum_of_json,
    )


def _paper_file(told: OwnCopy, language: str) -> tuple[str, bytes]:
    """Print the document; where the server cannot, a line says so and why, and the data come all the same."""
    try:
        return "copy.pdf", pdf_apart(own_copy_html(told, Paper(language)))
    except PaperUnavailable as problem:
        why = {"why": f"{problem} ({problem.value})"}
        said = [say(one, "mine.paper.none", why) for one in dict.fromkeys((language, "en"))]
        return "copy-pdf-missing.txt", "\n".join([*said, ""]).encode()


def copy_of(repository: Repository, who: SignedIn, *, now_ms: int, language: str = "en") -> bytes:
    """
    Make the copy: ``copy.json`` with everything, a CSV per part, a document to read, ``SHA256SUMS`` over all of them.

    The same book at the same instant gives the same JSON and tables.
    """
    parts = held(repository, who)
    told = {"made_by": f"brinebook {__version__}", "made_at": instant(now_ms), "team_id": who.team_id, **parts}
    files = {"copy.json": msgspec.json.format(msgspec.json.encode(told), indent=1)}
    files |= {f"{name}.csv": to_csv(table_of(name, rows)) for name, rows in parts.items() if rows}
    sum_of_json = hashlib.sha256(files["copy.json"]).hexdigest()
    name, printed = _paper_file(_document(repository, who, parts, sum_of_json, now_ms=now_ms), language)
    files[name] = printed
    sums = "".join(f"{hashlib.sha256(body).hexdigest()}  {name}\n" for name, body in sorted(files.items()))
    files["SHA256SUMS"] = sums.encode()
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, body in sorted(files.items()):
            packed.writestr(zipfile.ZipInfo(name, ZIP_DATE), body, zipfile.ZIP_DEFLATED)
    return out.getvalue()
