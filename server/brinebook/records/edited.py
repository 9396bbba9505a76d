"""Records edited by people: they carry a version, and a stale edit comes back with the newer record beside it."""

from typing import Annotated, Literal

from msgspec import Meta, Struct, field

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
    """
    A team and the time zone of its race.

    ``is_step_up_asked``: those who have a passkey show it before they are given others' bodies.
    """

    name: Name
    race_name: Name
    time_zone: Annotated[str, Meta(max_length=64)] = "Europe/Paris"
    is_step_up_asked: bool = False


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
    released_sodium_mg_per_h: Annotated[float, Meta(ge=1000, le=1500)] | None = None
    """Sodium per hour a physician has released him to; None leaves the default of 1000 mg/h."""
    is_gut_trained: bool = False
    """Practice at 90 g/h or more is on record."""
    has_agreed_to_high_carbohydrate: bool = False
    """Up to 120 g/h needs both: the practice, and the rider's own consent."""


Allergen = Literal[
    "gluten", "crustaceans", "eggs", "fish", "peanuts", "soybeans", "milk", "nuts", "celery", "mustard", "sesame",
    "sulphites", "lupin", "molluscs",
]
"""The fourteen that Regulation (EU) No 1169/2011, Annex II, has named on labels."""
Sugar = Literal["unknown", "none", "single", "mixed"]
"""Which transporters of the gut a carbohydrate needs: glucose's alone, or fructose's as well."""


class LabelLine(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One line of a label as it was typed: value, unit and basis are kept, nothing is converted twice."""

    nutrient: Literal["sodium", "salt", "carbohydrate", "fructose"]
    typed: Annotated[float, Meta(ge=0, le=1_000_000)]
    unit: Literal["mg", "g", "mmol"]
    basis: Literal["serving", "100_g", "100_ml", "litre"]


class Supply(Edited, frozen=True, kw_only=True, omit_defaults=True):
    """A powder or a salt on the shelf, from which drinks are mixed: what a gram holds, its scoop and its pack."""

    name: Name
    kind: Literal["powder", "table_salt", "citrate"] = "powder"
    sodium_mg_per_g: Annotated[float, Meta(ge=0, le=394)] = 0.0
    carbohydrate_g_per_g: Fraction = 0.0
    fructose_frac: Fraction | None = None
    """Share of the carbohydrate that is fructose, half of any sucrose included; None when the label does not say."""
    sucrose_frac: Fraction = 0.0
    maltodextrin_frac: Fraction = 0.0
    dextrose_equivalent_n: Annotated[float, Meta(ge=3, le=40)] = 10.0
    scoop_g: Annotated[float, Meta(gt=0, le=500)] | None = None
    pack_g: Annotated[float, Meta(gt=0, le=50_000)] | None = None
    serving_g: Annotated[float, Meta(gt=0, le=1000)] | None = None
    serving_l: Annotated[float, Meta(gt=0, le=5)] | None = None
    label: list[LabelLine] = []
    answered: list[Annotated[str, Meta(max_length=40)]] = []
    """Questions about the label that a person has answered with "as typed"."""
    allergens: list[Allergen] = []
    flavour: Annotated[str, Meta(max_length=40)] = ""


class Portion(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """How much of a supply goes into a litre of finished drink."""

    supply_id: Id
    g_per_l: Annotated[float, Meta(gt=0, le=400)]


class Drink(Edited, frozen=True, kw_only=True, omit_defaults=True):
    """A drink as labelled. ``sodium_mg_per_l`` is what the label says; a mix check may say otherwise later."""

    name: Name
    short_name: Annotated[str, Meta(min_length=1, max_length=12)]
    kind: Literal["water", "standard", "high_sodium", "other"] = "standard"
    bottle_l: BottleL = 0.5
    sodium_mg_per_l: Annotated[float, Meta(ge=0, le=4000)]
    carbohydrate_g_per_l: Annotated[float, Meta(ge=0, le=160)] = 0.0
    osmolality_mosm_per_kg: Annotated[float, Meta(ge=0, le=1500)] | None = None
    recipe: Annotated[list[Portion], Meta(max_length=8)] = []
    sugar: Sugar = "unknown"
    fructose_frac: Fraction | None = None
    allergens: list[Allergen] = []
    flavour: Annotated[str, Meta(max_length=40)] = ""
    is_finish_bottle: bool = False
    """True: every rider finds one at the finish; it is the beginning of the evening drink."""
    conductivity_ms_per_cm: Annotated[float, Meta(gt=0, le=60)] | None = None
    """Conductivity at 25 C of a batch known to be right, to read later batches against."""


class Food(Edited, frozen=True, kw_only=True, omit_defaults=True):
    """A food as handed out, per unit."""

    name: Name
    carbohydrate_g: Annotated[float, Meta(ge=0, le=150)]
    sodium_mg: Annotated[float, Meta(ge=0, le=3000)]
    water_l: Annotated[float, Meta(ge=0, le=0.5)] = 0.0
    mass_kg: Annotated[float, Meta(ge=0, le=0.5)] = 0.05
    sugar: Sugar = "unknown"
    fructose_frac: Fraction | None = None
    allergens: list[Allergen] = []
    flavour: Annotated[str, Meta(max_length=40)] = ""
    n_per_pack: Annotated[int, Meta(ge=1, le=1000)] | None = None


class RiderPalate(Edited, frozen=True, kw_only=True, omit_defaults=True):
    """
    What a rider likes and what he cannot take; ``id`` equals the rider's id.

    It never says why he cannot: that is between him and the doctor.
    """

    likes: list[Id] = []
    cannot: list[Id] = []
    """Drinks and foods never planned, packed or handed to him."""
    cannot_allergens: list[Allergen] = []


class Kit(Edited, frozen=True, kw_only=True, omit_defaults=True):
    """How the team mixes and prints: its buckets, its label sheets, its spares. One per team, ``id`` is "kit"."""

    buckets_l: Annotated[list[Annotated[float, Meta(ge=0.5, le=100)]], Meta(min_length=1, max_length=6)] = field(
        default_factory=lambda: [10.0]
    )
    label_stock: Literal["a4_3x8", "a4_2x7", "letter_3x10", "letter_2x5", "roll_62"] = "a4_3x8"
    nudge_right_mm: Annotated[float, Meta(ge=-2, le=2)] = 0.0
    nudge_down_mm: Annotated[float, Meta(ge=-2, le=2)] = 0.0
    spare_frac: Annotated[float, Meta(ge=0, le=1)] = 0.1
    drinks_cooled_to_c: Annotated[float, Meta(ge=2, le=30)] = 10.0


Importance = Annotated[float, Meta(ge=0.2, le=5)]
"""How much more than by default a goal counts. Never nought: a goal may be outweighed, not switched off."""


class PlanGoals(Edited, frozen=True, kw_only=True, omit_defaults=True):
    """
    What a plan gives up first when not everything fits. One per team, ``id`` is "goals".

    It ranks the plans that the limits allow and never moves a limit.
    """

    deficit_factor: Importance = 1.0
    water_factor: Importance = 1.0
    sodium_factor: Importance = 1.0
    carbohydrate_factor: Importance = 1.0
    hand_up_factor: Importance = 1.0
    variety_factor: Importance = 1.0
    even_factor: Importance = 1.0
    risk_factor: Importance = 1.0


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


class ClosedSpan(Struct, frozen=True, array_like=True):
    """A stretch of road on which nobody may be fed."""

    from_km: DistanceKm
    to_km: DistanceKm


class FeedingRules(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What the race book closes on one stage, besides the rules of the day."""

    closed: Annotated[list[ClosedSpan], Meta(max_length=40)] = []
    is_time_trial_fed: bool = False
    note: Text = ""


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
    feed_opens_km: DistanceKm | None = None
    """What the jury says for this stage, where it differs from the rules of the day."""
    feed_closes_to_go_km: DistanceKm | None = None
    opened_drinks_by_rider: dict[str, list[Id]] = {}
    """Drinks above the default strength that the physiologist has opened for a rider on this stage."""
    feeding: FeedingRules | None = None
    note: Text = ""
