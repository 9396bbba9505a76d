"""Facts: what people and devices saw. Only ever added; a correction is a new fact that names the old one."""

from typing import Annotated, Literal

from msgspec import Meta, Raw, Struct

from brinebook.records.common import (
    BottleL,
    DistanceKm,
    DurationH,
    Fraction,
    Id,
    InstantMs,
    MassKg,
    PowerW,
    SmallMassKg,
    SweatSodiumMmolPerL,
    TemperatureC,
    Text,
    Uuid,
    VolumeL,
    WindMPerS,
)


class Event(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """The wire form of every fact. ``body`` stays raw: unknown kinds are stored and relayed untouched."""

    id: Uuid
    kind: Annotated[str, Meta(min_length=1, max_length=32)]
    v: int = 1
    subject_id: Id
    by: Id
    device_id: Id
    n: Annotated[int, Meta(ge=0)]
    lamport: Annotated[int, Meta(ge=0)]
    at_ms: InstantMs
    offset_ms: int | None = None
    tz_min: Annotated[int, Meta(ge=-900, le=900)] = 0
    stage_id: Id | None = None
    ref: Uuid | None = None
    body: Raw = Raw(b"{}")


class Body(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Common base of the bodies below; fields unknown to this version are ignored here and kept in the raw event."""


class Drank(Body, frozen=True, kw_only=True, omit_defaults=True):
    """Water drunk: a tapped level, a counted bottle, or a recalled interval of road."""

    volume_l: VolumeL
    how: Literal["level", "count", "recall"]
    drink_id: Id | None = None
    bottle: Literal["down_tube", "seat_tube"] | None = None
    level_before_frac: Fraction | None = None
    level_after_frac: Fraction | None = None
    km: DistanceKm | None = None
    from_km: DistanceKm | None = None
    to_km: DistanceKm | None = None
    is_doubtful: bool = False


class HandedUp(Body, frozen=True, kw_only=True, omit_defaults=True):
    """Bottles put into a rider's hand or cage; not yet drunk."""

    n_bottles: Annotated[int, Meta(ge=1, le=12)] = 1
    volume_l: BottleL
    drink_id: Id
    feed_km: DistanceKm | None = None
    carried_by: Id | None = None


class CameBack(Body, frozen=True, kw_only=True, omit_defaults=True):
    """What a bottle still held when it came back."""

    left_l: VolumeL
    how: Literal["counted", "weighed"]
    drink_id: Id | None = None
    gross_kg: SmallMassKg | None = None
    tare_kg: SmallMassKg | None = None
    """What the bottle scale read, bottle and rest together, and the empty bottle."""


class Poured(Body, frozen=True, kw_only=True, omit_defaults=True):
    """Water over the head: left the bottle, did not enter the rider."""

    volume_l: VolumeL
    drink_id: Id | None = None


class Lost(Body, frozen=True, kw_only=True, omit_defaults=True):
    """A bottle dropped, thrown or given away."""

    volume_l: VolumeL
    drink_id: Id | None = None


class Ate(Body, frozen=True, kw_only=True, omit_defaults=True):
    """Food eaten on the road."""

    food_id: Id
    n_units: Annotated[float, Meta(gt=0, le=30)]


class Typed(Struct, frozen=True, kw_only=True):
    """A figure as a person typed it, where the unit was not the book's own: nothing is converted twice."""

    value: Annotated[float, Meta(ge=-1e6, le=1e6)]
    unit: Literal["lb", "us_fl_oz"]


class Weighed(Body, frozen=True, kw_only=True, omit_defaults=True):
    """Body mass before or after a stage, with what moved in between."""

    moment: Literal["before", "after"]
    mass_kg: MassKg
    readings_kg: Annotated[list[MassKg], Meta(max_length=3)] = []
    """As the scale showed them where it was read more than once; the mass is the mean of two, the middle of three."""
    is_kit_dry: bool = True
    food_kg: SmallMassKg = 0.0
    urine_l: Annotated[float, Meta(ge=0.0, le=5.0)] = 0.0
    energy_kcal: Annotated[float, Meta(ge=0.0, le=12000.0)] | None = None
    kit_sweat_kg: Annotated[float, Meta(ge=0.0, le=3.0)] = 0.0
    """Sweat in the clothes that stood on the scale with the rider, from the kit's own weight."""
    stool_kg: Annotated[float, Meta(ge=0.0, le=3.0)] = 0.0
    typed: dict[str, Typed] = {}
    """By the name of the field whose figure was typed in another unit."""


class MorningCheck(Body, frozen=True, kw_only=True, omit_defaults=True):
    """Fasted, voided morning mass; urine colour on the 8-point chart; thirst 1-9; sleep; a yes or no to illness."""

    mass_kg: MassKg
    readings_kg: Annotated[list[MassKg], Meta(max_length=3)] = []
    urine_colour: Annotated[int, Meta(ge=1, le=8)] | None = None
    thirst: Annotated[int, Meta(ge=1, le=9)] | None = None
    urine_gravity_factor: Annotated[float, Meta(ge=1.0, le=1.06)] | None = None
    """Specific gravity of the first urine, water = 1."""
    sleep_h: Annotated[float, Meta(ge=0.0, le=16.0)] | None = None
    is_ill: bool = False
    """Feels ill; what it is goes to the doctor as a symptom, not here."""


Remark = Literal[
    "VOL_FULL", "LEAK", "DETACHED", "TATTOO_OR_WOUND", "CAL_SLOPE", "QC_WARN", "QC_FAIL", "DUP_READ", "NA_CL",
]


class SweatSample(Body, frozen=True, kw_only=True, omit_defaults=True):
    """One forearm collection, one arm."""

    site: Literal["dorsal_forearm", "ventral_forearm"]
    side: Literal["left", "right"]
    sodium_mmol_per_l: SweatSodiumMmolPerL
    volume_ul: Annotated[float, Meta(gt=0, le=2000)]
    area_cm2: Annotated[float, Meta(gt=0, le=100)]
    collected_min: Annotated[float, Meta(gt=0, le=180)]
    started_after_min: Annotated[float, Meta(ge=0, le=240)] = 20.0
    method: Literal["ion_selective", "ion_chromatography", "flame", "conductivity"] = "ion_selective"
    is_sealed: bool = True
    stored_days: Annotated[float, Meta(ge=0, le=60)] = 0.0
    remarks: Annotated[list[Remark], Meta(max_length=12)] = []
    """What hands and meter add to the reading."""
    analyser: Annotated[str, Meta(max_length=40)] = ""
    analyser_need_ul: Annotated[float, Meta(ge=0, le=2000)] = 0.0
    """Least volume the analyser itself asks for."""
    chloride_mmol_per_l: Annotated[float, Meta(gt=0, le=300)] | None = None
    potassium_mmol_per_l: Annotated[float, Meta(gt=0, le=100)] | None = None
    diluent_ul: Annotated[float, Meta(ge=0, le=20000)] = 0.0
    background_mg: Annotated[float, Meta(ge=0, le=10)] = 0.0
    """Sodium of a blank patch and tube, taken off."""
    evaporated_frac: Annotated[float, Meta(ge=0, le=0.5)] = 0.0


class WeighedRide(Body, frozen=True, kw_only=True, omit_defaults=True):
    """A ride of at least an hour between two weighings, to read a whole-body sweat rate."""

    mass_before_kg: MassKg
    mass_after_kg: MassKg
    fluid_drunk_l: VolumeL
    food_kg: SmallMassKg = 0.0
    urine_l: Annotated[float, Meta(ge=0.0, le=5.0)] = 0.0
    duration_h: DurationH
    power_w: PowerW
    air_temperature_c: TemperatureC
    relative_humidity_frac: Fraction
    air_speed_m_per_s: WindMPerS
    solar_w_per_m2: Annotated[float, Meta(ge=0, le=1400)] = 0.0
    kit_sweat_kg: Annotated[float, Meta(ge=0.0, le=3.0)] = 0.0
    stool_kg: Annotated[float, Meta(ge=0.0, le=3.0)] = 0.0


class RiddenStep(Struct, frozen=True, array_like=True):
    """A ride at the end of one even step of time; ``power_w`` is None where the meter said nothing."""

    end_km: DistanceKm
    elapsed_h: DurationH
    power_w: PowerW | None


class Ridden(Body, frozen=True, kw_only=True, omit_defaults=True):
    """A stage as one rider rode it, from his own file: it takes the place of predicted power and time."""

    started_at_ms: InstantMs
    duration_h: DurationH
    length_km: DistanceKm
    work_kj: Annotated[float, Meta(ge=0, le=30000)]
    """Metered work; seconds without a power are not in it."""
    mean_power_w: PowerW = 0.0
    missing_power_frac: Fraction = 0.0
    """Share of the riding time without a power; 1 for a file without a power meter."""
    paused_h: Annotated[float, Meta(ge=0, le=12)] = 0.0
    n_pauses: Annotated[int, Meta(ge=0, le=1000)] = 0
    work_ratio_frac: Annotated[float, Meta(ge=0, le=100)] | None = None
    """Work of the whole file over the device's own sum, where it wrote one."""
    file_kind: Literal["fit", "tcx", "gpx"]
    along: Annotated[list[RiddenStep], Meta(min_length=1, max_length=400)]


class Measured(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """So much of a supply was weighed into a batch."""

    supply_id: Id
    mass_g: Annotated[float, Meta(ge=0, le=50_000)]


class MixCheck(Body, frozen=True, kw_only=True, omit_defaults=True):
    """The strength of a batch as made, not as planned, and how it was read."""

    drink_id: Id
    sodium_mg_per_l: Annotated[float, Meta(ge=0, le=6000)]
    sodium_sd_mg_per_l: Annotated[float, Meta(ge=0, le=3000)] | None = None
    how: Literal["stated", "weighed", "conductivity", "refractometer"] = "stated"
    supplies: Annotated[list[Measured], Meta(max_length=8)] = []
    water_l: VolumeL | None = None
    """Water weighed or measured in; the volume of the batch follows from it."""
    conductivity_ms_per_cm: Annotated[float, Meta(ge=0, le=60)] | None = None
    temperature_c: Annotated[float, Meta(ge=0, le=45)] | None = None
    sucrose_g_per_100_g: Annotated[float, Meta(ge=0, le=40)] | None = None
    """The refractometer's degrees: grams of sucrose in 100 grams of solution."""


class StockCounted(Body, frozen=True, kw_only=True, omit_defaults=True):
    """What stands on the shelf now: grams of a supply, or pieces of a food."""

    item_id: Id
    n_amount: Annotated[float, Meta(ge=0, le=1_000_000)]


class Delivered(Body, frozen=True, kw_only=True, omit_defaults=True):
    """What was delivered: grams of a supply, or pieces of a food."""

    item_id: Id
    n_amount: Annotated[float, Meta(gt=0, le=1_000_000)]


class SheetPrinted(Body, frozen=True, kw_only=True, omit_defaults=True):
    """A prep sheet, its labels or the riders' cards went to paper; a newer one then says "Reprint"."""

    what: Literal["prep", "labels", "cards"]
    sheet_version: Annotated[int, Meta(ge=1, le=10_000)]


class Symptom(Body, frozen=True, kw_only=True, omit_defaults=True):
    """A symptom in words from a fixed list."""

    symptom: Literal["headache", "nausea", "vomiting", "bloating", "puffy_hands", "cramp", "dizzy", "confused", "other"]
    note: Text = ""


class Note(Body, frozen=True, kw_only=True, omit_defaults=True):
    """A short free note."""

    text: Text


class Amend(Body, frozen=True, kw_only=True, omit_defaults=True):
    """Sets single fields of the fact named by ``ref``."""

    set: dict[str, float | int | str | bool | None]


class Void(Body, frozen=True, kw_only=True, omit_defaults=True):
    """Takes back the fact named by ``ref``; void wins over everything."""


class Link(Body, frozen=True, kw_only=True, omit_defaults=True):
    """Says that two facts are the same bottle; ``keep`` is the one that counts."""

    a: Uuid
    b: Uuid
    keep: Uuid


class Agreed(Body, frozen=True, kw_only=True, omit_defaults=True):
    """Staff settle one rider's stage: the drunk litres that count, and why when they differ from the proposal."""

    drunk_l: VolumeL
    proposed_l: VolumeL | None = None
    reason: Literal["", "scale_fault", "missed_bottle", "ate_or_voided", "clothing", "other"] = ""
    over: Annotated[list[Uuid], Meta(max_length=32)] | None = None
    """The agreed figures its author had before his eyes; one that is not named was not seen."""
    note: Text = ""


class Reopened(Body, frozen=True, kw_only=True, omit_defaults=True):
    """Staff open a settled rider-stage again."""

    reason: Annotated[str, Meta(min_length=1, max_length=400)]


class Contested(Body, frozen=True, kw_only=True, omit_defaults=True):
    """A rider says a proxy entry named by ``ref`` is not his."""

    reason: Text = ""


class TeamCount(Body, frozen=True, kw_only=True, omit_defaults=True):
    """A count of bottles that belong to no rider yet; the last count of each kind and place stands."""

    what: Literal["loaded", "left_over", "came_back", "lost"]
    n_bottles: Annotated[int, Meta(ge=0, le=400)]
    volume_l: Annotated[float, Meta(ge=0.0, le=400.0)]
    place: Annotated[str, Meta(max_length=40)] = ""


class Acknowledged(Body, frozen=True, kw_only=True, omit_defaults=True):
    """Somebody has read a warning about a rider and answers for it by name."""

    code: Annotated[str, Meta(min_length=1, max_length=48)]
    note: Text = ""


class ControlRead(Struct, frozen=True, array_like=True):
    """A control solution read before and after the samples."""

    nominal_mmol_per_l: Annotated[float, Meta(gt=0.0, le=500.0)]
    before_mmol_per_l: Annotated[float, Meta(gt=0.0, le=500.0)]
    after_mmol_per_l: Annotated[float, Meta(gt=0.0, le=500.0)]


class Calibrated(Body, frozen=True, kw_only=True, omit_defaults=True):
    """One calibration of a sodium meter, with its control solutions."""

    analyser: Annotated[str, Meta(min_length=1, max_length=40)]
    slope_mv_per_decade: Annotated[float, Meta(ge=1.0, le=120.0)]
    temperature_c: Annotated[float, Meta(ge=0.0, le=50.0)] = 25.0
    low_mmol_per_l: Annotated[float, Meta(gt=0.0, le=1000.0)]
    high_mmol_per_l: Annotated[float, Meta(gt=0.0, le=1000.0)]
    controls: Annotated[list[ControlRead], Meta(max_length=6)] = []


class CollectionBooked(Body, frozen=True, kw_only=True, omit_defaults=True):
    """A sweat collection booked for part of the squad; ``at_ms`` of the event says when it was written down."""

    on_ms: InstantMs
    place: Annotated[str, Meta(max_length=80)] = ""
    rider_ids: Annotated[list[Id], Meta(min_length=1, max_length=40)]
    note: Text = ""


BODY_BY_KIND: dict[str, type[Body]] = {
    "drank": Drank,
    "handed_up": HandedUp,
    "came_back": CameBack,
    "poured": Poured,
    "lost": Lost,
    "ate": Ate,
    "weighed": Weighed,
    "morning_check": MorningCheck,
    "sweat_sample": SweatSample,
    "weighed_ride": WeighedRide,
    "ridden": Ridden,
    "mix_check": MixCheck,
    "stock_counted": StockCounted,
    "delivered": Delivered,
    "sheet_printed": SheetPrinted,
    "symptom": Symptom,
    "note": Note,
    "amend": Amend,
    "void": Void,
    "link": Link,
    "unlink": Link,
    "agreed": Agreed,
    "reopened": Reopened,
    "contested": Contested,
    "team_count": TeamCount,
    "acknowledged": Acknowledged,
    "calibrated": Calibrated,
    "collection_booked": CollectionBooked,
}
