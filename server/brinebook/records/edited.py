"""Records edited by people: they carry a version, and a stale edit comes back with the newer record beside it."""

from typing import Annotated, Literal

from msgspec import Meta, Struct

from brinebook.records.common import (
    BottleL,
    DistanceKm,
    ElevationM,
    Fraction,
    HeightM,
    Id,
    InstantMs,
    LatitudeDeg,
    LongitudeDeg,
    MassKg,
    Name,
    RaceRole,
    Role,
    StageKind,
    TemperatureC,
    Text,
    WindMPerS,
)


class Edited(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Base: ``version`` counts edits from 1."""

    id: Id
    version: Annotated[int, Meta(ge=0)] = 0


class Team(Edited, frozen=True, kw_only=True, omit_defaults=True):
    """A team and the time zone of its race."""

    name: Name
    race_name: Name
    time_zone: Annotated[str, Meta(max_length=64)] = "Europe/Paris"


class Member(Edited, frozen=True, kw_only=True, omit_defaults=True):
    """A person who signs in. ``rider_id`` is set for riders only."""

    name: Name
    role: Role
    rider_id: Id | None = None


class Rider(Edited, frozen=True, kw_only=True, omit_defaults=True):
    """What any team member may know of a rider."""

    name: Name
    race_number: Annotated[int, Meta(ge=1, le=999)]
    race_role: RaceRole = "domestique"


class RiderBody(Edited, frozen=True, kw_only=True, omit_defaults=True):
    """Body facts of a rider; ``id`` equals the rider's id. Seen by far fewer people than the race number."""

    mass_kg: MassKg
    height_m: HeightM
    age_years: Annotated[int, Meta(ge=16, le=60)]
    sex: Literal["m", "f"]
    gross_efficiency_frac: Annotated[float, Meta(ge=0.17, le=0.28)] | None = None
    needs_physician_release: bool = False
    is_released_by_physician: bool = False
    max_intake_l_per_h: Annotated[float, Meta(ge=0.3, le=1.5)] | None = None


class Drink(Edited, frozen=True, kw_only=True, omit_defaults=True):
    """A drink as labelled. ``sodium_mg_per_l`` is what the label says; a mix check may say otherwise later."""

    name: Name
    short_name: Annotated[str, Meta(min_length=1, max_length=12)]
    kind: Literal["water", "standard", "high_sodium", "other"] = "standard"
    bottle_l: BottleL = 0.5
    sodium_mg_per_l: Annotated[float, Meta(ge=0, le=4000)]
    carbohydrate_g_per_l: Annotated[float, Meta(ge=0, le=160)] = 0.0
    osmolality_mosm_per_kg: Annotated[float, Meta(ge=0, le=1500)] | None = None


class Food(Edited, frozen=True, kw_only=True, omit_defaults=True):
    """A food as handed out, per unit."""

    name: Name
    carbohydrate_g: Annotated[float, Meta(ge=0, le=150)]
    sodium_mg: Annotated[float, Meta(ge=0, le=3000)]
    water_l: Annotated[float, Meta(ge=0, le=0.5)] = 0.0
    mass_kg: Annotated[float, Meta(ge=0, le=0.5)] = 0.05


class CoursePoint(Struct, frozen=True, array_like=True):
    """One point of the course, distance counted from the first point of the file."""

    distance_km: DistanceKm
    elevation_m: ElevationM
    latitude_deg: LatitudeDeg
    longitude_deg: LongitudeDeg


class FeedPoint(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A signed feed zone or a car window on the course, in kilometres from the real start (km 0)."""

    id: Id
    name: Name
    kind: Literal["start", "zone", "car"]
    km: DistanceKm


class ForecastRow(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Weather at one point and hour. The instant is UTC; a table without a time zone never gets this far."""

    at_ms: InstantMs
    point: Annotated[str, Meta(min_length=1, max_length=40)] = "start"
    km: DistanceKm = 0.0
    elevation_m: ElevationM = 0.0
    air_temperature_c: TemperatureC
    relative_humidity_frac: Annotated[float, Meta(ge=0.01, le=1.0)]
    wind_m_per_s: WindMPerS = 0.0
    wind_from_deg: Annotated[float, Meta(ge=0, le=360)] = 0.0
    cloud_frac: Fraction = 0.0
    solar_w_per_m2: Annotated[float, Meta(ge=0, le=1400)] | None = None


class Stage(Edited, frozen=True, kw_only=True, omit_defaults=True):
    """One day of the race. A rest day has no course."""

    number: Annotated[int, Meta(ge=1, le=30)]
    day_index: Annotated[int, Meta(ge=1, le=30)]
    name: Name
    kind: StageKind
    start_at_ms: InstantMs
    time_zone: Annotated[str, Meta(max_length=64)]
    km0_km: DistanceKm = 0.0
    scheduled_duration_h: Annotated[float, Meta(gt=0, le=10)] | None = None
    course: list[CoursePoint] = []
    feed_points: list[FeedPoint] = []
    forecast: list[ForecastRow] = []
    race_role_by_rider: dict[str, RaceRole] = {}
    start_offset_s_by_rider: dict[str, float] = {}
    note: Text = ""
