"""An in-memory store for planning, and a small made-up race to plan."""

import hashlib
import json
import math
from contextlib import nullcontext

import msgspec
from brinebook.records.edited import (
    CoursePoint,
    Drink,
    FeedPoint,
    Food,
    ForecastRow,
    Rider,
    RiderBody,
    Stage,
)
from brinebook.records.facts import Event
from brinebook.storage.mapping import TYPE_NAMES
from brinebook.storage.repository import StoredDocument

TEAM = "team-1"
DAY_MS = 86_400_000
HOUR_MS = 3_600_000
FIRST_START_MS = 1_782_129_600_000  # 22 June 2026, 12:00 UTC


class MemoryRepository:
    """The reads and writes planning uses, kept in dictionaries."""

    def __init__(self):
        self.edited_records, self.facts, self.heads, self.n_writes = {}, [], {}, 0

    def copy(self):
        twin = MemoryRepository()
        twin.edited_records, twin.facts = dict(self.edited_records), list(self.facts)
        twin.heads, twin.n_writes = dict(self.heads), self.n_writes
        return twin

    def snapshot(self, _eyes=None):
        return nullcontext()

    def transaction(self):
        return nullcontext()

    def all_edited(self, team_id, type_):
        assert team_id == TEAM
        found = [record for record in self.edited_records.values() if isinstance(record, type_)]
        return sorted(found, key=lambda record: record.id)

    def put_edited(self, team_id, record):
        assert team_id == TEAM
        self.edited_records[type(record).__name__, record.id] = record

    def events_for_team(self, team_id):
        assert team_id == TEAM
        return list(self.facts)

    def documents(self, team_id, type_=None):
        assert team_id == TEAM
        found = [one for one in self.heads.values() if type_ in {None, one.type}]
        for record in self.edited_records.values():
            body, kind = msgspec.json.encode(record), TYPE_NAMES[type(record)]
            if type_ == kind:
                found.append(StoredDocument(
                    seq=0, id=f"{kind}:{record.id}", type=kind, subject_id=record.id,
                    sha=hashlib.sha256(body).hexdigest(), body=body,
                ))
        return sorted(found, key=lambda one: one.id)

    def put_documents(self, team_id, documents):
        assert team_id == TEAM
        ids = []
        for one in documents:
            sha = hashlib.sha256(one.body).hexdigest()
            if one.id not in self.heads or self.heads[one.id].sha != sha:
                self.n_writes += 1
                self.heads[one.id] = StoredDocument(
                    seq=self.n_writes, id=one.id, type=one.type, subject_id=one.subject_id, sha=sha, body=one.body
                )
                ids.append(one.id)
        return ids

    def delete_documents(self, team_id, ids):
        assert team_id == TEAM
        for id_ in ids:
            del self.heads[id_]

    def record(self, id_, type_):
        return msgspec.json.decode(self.heads[id_].body, type=type_)

    def shas(self):
        return {key: one.sha for key, one in self.heads.items()}


class Facts:
    """Writes facts as a phone would: ids, lamports and instants count up."""

    def __init__(self, repository):
        self.repository, self.n = repository, 0

    def add(self, kind, subject_id, body, *, at_ms, stage_id=None, ref=None, by="member-1"):
        self.n += 1
        wire = {
            "id": f"00000000-0000-7000-8000-{self.n:012d}", "kind": kind, "subject_id": subject_id, "by": by,
            "device_id": "phone-1", "n": self.n, "lamport": self.n, "at_ms": at_ms, "body": body,
        }
        if stage_id is not None:
            wire["stage_id"] = stage_id
        if ref is not None:
            wire["ref"] = ref
        event = msgspec.json.decode(json.dumps(wire), type=Event)
        self.repository.facts.append(event)
        return event.id

    def sample(self, rider_id, side, sodium, *, at_ms, **more):
        body = {"site": "dorsal_forearm", "side": side, "sodium_mmol_per_l": sodium, "volume_ul": 90.0,
                "area_cm2": 5.0, "collected_min": 25.0, **more}
        return self.add("sweat_sample", rider_id, body, at_ms=at_ms)

    def ride_a_stage(self, rider_id, stage, *, before_kg, after_kg, n_bottles=6, left_l=0.1, agreed_l=None):
        """Hand bottles up, weigh, and settle when ``agreed_l`` is given."""
        start = stage.start_at_ms
        self.add("weighed", rider_id, {"moment": "before", "mass_kg": before_kg}, at_ms=start - HOUR_MS,
                 stage_id=stage.id)
        for index in range(n_bottles):
            self.add("handed_up", rider_id, {"volume_l": 0.5, "drink_id": "standard" if index % 2 else "water"},
                     at_ms=start + index * HOUR_MS // 2, stage_id=stage.id)
        self.add("came_back", rider_id, {"left_l": left_l, "how": "weighed", "drink_id": "water"},
                 at_ms=start + 4 * HOUR_MS, stage_id=stage.id)
        self.add("weighed", rider_id, {"moment": "after", "mass_kg": after_kg, "food_kg": 0.3, "urine_l": 0.1},
                 at_ms=start + 5 * HOUR_MS, stage_id=stage.id)
        if agreed_l is not None:
            self.agree(rider_id, stage, agreed_l)

    def agree(self, rider_id, stage, agreed_l):
        return self.add("agreed", rider_id, {"drunk_l": agreed_l}, at_ms=stage.start_at_ms + 6 * HOUR_MS,
                        stage_id=stage.id)


def course(length_km=150.0, top_m=900.0):
    steps = 60
    return [
        CoursePoint(
            length_km * i / steps, 200.0 + (top_m - 200.0) * math.sin(math.pi * i / steps) ** 2,
            44.0 + 0.9 * length_km / 100.0 * i / steps, 6.0,
        )
        for i in range(steps + 1)
    ]


def stage(number, *, air_temperature_c=27.0, kind="hilly", length_km=150.0, day_index=None):
    start = FIRST_START_MS + ((day_index or number) - 1) * DAY_MS
    if kind == "rest":
        return Stage(id=f"s{number}", number=number, day_index=day_index or number, name="Rest day", kind=kind,
                     start_at_ms=start, time_zone="Europe/Paris", version=1)
    return Stage(
        id=f"s{number}", number=number, day_index=day_index or number, name=f"Stage {number}", kind=kind,
        start_at_ms=start, time_zone="Europe/Paris", version=1, course=course(length_km),
        feed_points=[
            FeedPoint(id=f"s{number}-start", name="Start", kind="start", km=0.0),
            FeedPoint(id=f"s{number}-a", name="Zone A", kind="zone", km=50.0),
            FeedPoint(id=f"s{number}-car", name="Car", kind="car", km=80.0),
            FeedPoint(id=f"s{number}-b", name="Zone B", kind="zone", km=105.0),
        ],
        forecast=[
            ForecastRow(at_ms=start + hour * HOUR_MS, air_temperature_c=air_temperature_c + 0.5 * hour,
                        relative_humidity_frac=0.45, wind_m_per_s=2.0, wind_from_deg=200.0, cloud_frac=0.2)
            for hour in range(-1, 8)
        ],
    )


def team(*, n_stages=6, n_riders=2, rest_after=None, **stage_options):
    """Make a store with riders, drinks, foods and stages, and a writer of facts."""
    repository = MemoryRepository()
    records = [
        Drink(id="water", name="Water", short_name="W", kind="water", sodium_mg_per_l=0.0, version=1),
        Drink(id="standard", name="Standard", short_name="S", sodium_mg_per_l=800.0, carbohydrate_g_per_l=60.0,
              version=1),
        Drink(id="salty", name="Salty", short_name="N", kind="high_sodium", sodium_mg_per_l=1500.0,
              carbohydrate_g_per_l=40.0, version=1),
        Food(id="rice", name="Rice cake", carbohydrate_g=35.0, sodium_mg=150.0, water_l=0.03, version=1),
    ]
    for index in range(n_riders):
        records.append(Rider(id=f"r{index + 1}", name=f"Rider {index + 1}", race_number=41 + index, version=1))
        records.append(RiderBody(id=f"r{index + 1}", mass_kg=68.0 + index, height_m=1.79, age_years=26, sex="m",
                                 version=1))
    day = 0
    for number in range(1, n_stages + 1):
        day += 1
        records.append(stage(number, day_index=day, **stage_options))
        if number == rest_after:
            day += 1
            rest = msgspec.structs.replace(stage(30, kind="rest", day_index=day), id="rest")
            records.append(rest)
    for record in records:
        repository.put_edited(TEAM, record)
    return repository, Facts(repository)


def stages_of(repository):
    return {one.id: one for one in repository.all_edited(TEAM, Stage)}
