"""A team with one person whose every trace is a word nobody else has, to be looked for in backups."""

import sqlite3
from contextlib import closing
from pathlib import Path

import msgspec
from brinebook.records.edited import Rider, RiderBody, RiderPalate, Stage
from brinebook.storage.backup import TABLES
from brinebook.storage.keys import Passkey
from brinebook.storage.repository import NewDocument, Subscription
from brinebook.storage.sqlite import FILE_NAME
from storage.contract import new_event
from support.world import World

CANARIES = (
    "Zebulon Quarrington", "61.237", "left knee since Tuesday", "vomited twice at the feed", "gooseberry-quartz",
    "Zebulon's little phone", "https://push.example/zebulon", "quarantined-canary", "Zebulon's passkey", "1.837",
    "opened-only-for-zebulon",
)
MATE = "Wilhelmina Osterhagen"
BODY = {"mass_kg": 61.237, "height_m": 1.837, "age_years": 27, "sex": "m"}


def _stage(id_: str, **maps) -> Stage:
    return Stage(id=id_, version=1, number=1, day_index=1, name="Harbour", kind="flat", start_at_ms=1_790_000_000_000,
                 time_zone="Europe/Paris", **maps)


def _records(repository) -> None:
    repository.put_edited("red", Rider(id="r1", version=2, name="Zebulon Quarrington", race_number=1))
    repository.put_edited("red", Rider(id="r2", version=2, name=MATE, race_number=2))
    repository.put_edited("red", RiderBody(id="r1", version=2, **BODY))
    repository.put_edited("red", RiderPalate(id="r1", version=1, likes=["gooseberry-quartz"]))
    repository.put_edited("red", _stage(
        "s1", race_role_by_rider={"r2": "leader", "r1": "domestique"}, start_offset_s_by_rider={"r1": 61.237},
        opened_drinks_by_rider={"r1": ["opened-only-for-zebulon"], "r2": ["strong"]},
    ))
    repository.put_edited("red", _stage("s2"))
    sheet = b'{"id":"prep_sheet:s1","places":[{"rider_id":"r1","drink":"gooseberry-quartz"},{"rider_id":"r2"}]}'
    own = b'{"rider_id":"r1","mass_kg":61.237}'
    repository.put_documents("red", [
        NewDocument(id="prep_sheet:s1", type="prep_sheet", subject_id="red", body=sheet),
        NewDocument(id="stock", type="stock", subject_id="red", body=b'{"lines":[]}'),
        NewDocument(id="settlement:r1:s1", type="settlement", subject_id="r1", body=own),
        NewDocument(id="settlement:r2:s1", type="settlement", subject_id="r2", body=b'{"rider_id":"r2"}'),
    ])


def _zebulon(world):
    phone = world.join("red", "rider", "r1")
    repository = world.repository
    device = repository.device("red", phone.device_id)
    repository.put_device(msgspec.structs.replace(device, name="Zebulon's little phone"))
    repository.put_passkey(Passkey(
        id="pk1", team_id="red", member_id=phone.member["id"], rp_id="book.example", public_key=b"k", n_signed=0,
        name="Zebulon's passkey", made_at_ms=1, used_at_ms=1,
    ))
    keys = {"p256dh": "B" * 87, "auth": "A" * 22}
    repository.put_subscription(Subscription(
        team_id="red", device_id=phone.device_id, member_id=phone.member["id"], role="rider", rider_id="r1",
        endpoint="https://push.example/zebulon", **keys,
    ))
    phone.post("/api/me/notices", {"name": "use", "version": 1, "is_agreed": True})
    verdicts = phone.exchange(
        phone.fact("note", "r1", {"text": "left knee since Tuesday"}),
        phone.fact("symptom", "r1", {"symptom": "vomiting", "note": "vomited twice at the feed"}),
        phone.fact("weighed", "r1", {"moment": "before", "mass_kg": 61.237}),
    )
    repository.add_events("red", [new_event("r1") for _ in range(900)])
    assert {one["status"] for one in verdicts} == {"ok"}
    return phone


def fill(world: World) -> None:
    """Fill the team red: rider r1 with canaries, r2 without."""
    _records(world.repository)
    phone = _zebulon(world)
    mate, admin = world.join("red", "rider", "r2"), world.join("red", "admin")
    mate.exchange(mate.fact("note", "r2", {"text": "of Wilhelmina"}), mate.fact("drank", "r2", {"volume_l": 0.2}))
    admin.exchange(admin.fact("weighed", "r1", {"moment": "after", "mass_kg": 60.111}))
    raw = msgspec.Raw(b'{"text":"quarantined-canary"}')
    world.repository.quarantine("red", [new_event("r1", "note", body=raw)], "refused")
    phone.post("/api/me/erasure")


def all_bytes(path) -> bytes:
    """Give the file itself, and every cell of every table, whatever page it stands on."""
    with closing(sqlite3.connect(path)) as connection:
        names = [row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        told = [cell for name in names for row in connection.execute(f'SELECT * FROM "{name}"') for cell in row]  # noqa: S608
    return path.read_bytes() + b"\n".join(
        cell if isinstance(cell, bytes) else str(cell).encode() for cell in told
    )


def found(raw: bytes) -> list[str]:
    """Name the canaries in it."""
    return [one for one in CANARIES if one.encode() in raw]


def plain_copy(data: Path, target: Path) -> None:
    """Write a backup of the older form, with everybody in the clear."""
    with closing(sqlite3.connect(data / FILE_NAME)) as connection:
        connection.execute("VACUUM INTO ?", (str(target),))


def dump(repository, target) -> None:
    """Write every cell of the open store into a file, in the clear."""
    with closing(sqlite3.connect(target)) as out, repository.database.reading() as connection:
        out.execute("CREATE TABLE cells (cell BLOB)")
        for one in TABLES:
            for row in connection.execute(one.select()):
                out.executemany("INSERT INTO cells VALUES (?)", [
                    (cell if isinstance(cell, bytes) else str(cell),) for cell in row
                ])
        out.commit()


def cells(repository) -> dict[str, list]:
    """Give every row of every table but those that a restore changes."""
    left_out = {"store", "team_counter", "pending_change"}
    with repository.database.reading() as connection:
        return {
            one.name: sorted((tuple(row) for row in connection.execute(one.select())), key=repr)
            for one in TABLES if one.name not in left_out
        }
