"""Derived records: pure functions of a basis; thrown away and computed again, to the byte."""

from typing import Literal

from msgspec import Struct

from brinebook.records.common import Evidence, StageKind
from brinebook.records.explained import Explained
from brinebook.records.plan_parts import FreedBy, PlanPoint, PlanStep, RestDay


class Basis(Struct, frozen=True, kw_only=True):
    """What a derived record was computed from: its hash is the record's identity."""

    engine_version: str
    input_ids: list[str]


class Flag(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A warning in code and numbers; the sentence is made at the glass from the catalogue."""

    code: str
    severity: Literal["note", "caution", "stop", "medical"]
    quantity: str = ""
    value: float | None = None
    limit: float | None = None
    detail: str = ""


class Reason(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Why a figure is what it is, or why it changed: one input with its provenance."""

    code: str
    quantity: str = ""
    before: float | None = None
    after: float | None = None
    evidence: Evidence = "default"
    source: str = ""


class Derived(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Base of all derived records."""

    id: str
    rider_id: str
    basis: Basis
    flags: list[Flag] = []
    reasons: list[Reason] = []
    explained: list[Explained] = []


class RiderProfile(Derived, frozen=True, kw_only=True, omit_defaults=True):
    """Sweat factor (a log-normal multiplier on the model) and sweat sodium, both with spread."""

    sweat_factor_median: float
    sweat_factor_log_sd: float
    team_offset_log: float
    n_weighed: int
    sodium_mean_mmol_per_l: float
    sodium_sd_mmol_per_l: float
    sodium_low_mmol_per_l: float
    sodium_high_mmol_per_l: float
    sodium_median_forearm_mmol_per_l: float
    n_sodium_tests: int
    sodium_evidence: Evidence
    factor_evidence: Evidence
    morning_line_kg: float | None = None
    """Median of the last mornings without odd ones; frozen after an ill day."""
    morning_change_frac: float | None = None
    morning_change_since_start_frac: float | None = None
    pocket_rule: "PocketRule | None" = None


class PocketRule(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Which blend of the team's own bottles is as salty as this rider's sweat."""

    code: Literal["every_nth_salty", "alternate_water", "standard_only", "all_salty", "no_blend"]
    target_mg_per_l: float
    base_drink_id: str | None = None
    salty_drink_id: str | None = None
    one_in_n: float | None = None
    one_in_n_low: float | None = None
    one_in_n_high: float | None = None
    food_id: str | None = None
    food_units_per_salty_bottle: float | None = None


class ProfilePoint(Struct, frozen=True, array_like=True):
    """Predicted cumulative loss at one place of the road."""

    km: float
    elevation_m: float
    elapsed_h: float
    sweat_q10_l: float
    sweat_q50_l: float
    sweat_q90_l: float
    air_temperature_c: float


class StageForecast(Derived, frozen=True, kw_only=True, omit_defaults=True):
    """What one rider is expected to lose on one stage."""

    stage_id: str
    stage_number: int
    stage_kind: StageKind
    duration_h: float
    mean_power_w: float
    energy_kcal: float
    sweat_quantiles_l: list[float]
    """20 equally likely stage losses [L], ascending: one for each dot of the Lane."""
    sweat_q10_l: float
    sweat_q50_l: float
    sweat_q90_l: float
    model_sweat_l: float
    """The chain's own figure before factor and team offset [L]; settlements are compared with it."""
    sodium_q10_mg: float
    sodium_q50_mg: float
    sodium_q90_mg: float
    respiratory_l: float
    max_wettedness_frac: float
    share_at_cap_frac: float
    wbgt_max_c: float
    air_temperature_max_c: float
    along: list[ProfilePoint]


class StagePlan(Derived, frozen=True, kw_only=True, omit_defaults=True):
    """Which bottle, where, for one rider and stage."""

    stage_id: str
    stage_number: int
    status: Literal["draft", "published"]
    plan_version: int
    supersedes: int | None = None
    water_l: float
    sodium_mg: float
    carbohydrate_g: float
    target_water_l: float
    target_sodium_mg: float
    lane_low_l: float
    lane_high_l: float
    """The kerbs of the Lane: intake [L] at which the stage would end on the dry side or the wet side."""
    size_low_l: float | None = None
    """The dry kerb [L] of the rider's size class, for sheets and summaries that go to those who may see no mass."""
    steps: list[PlanStep]
    along: list[PlanPoint]
    pre_stage_drink_l: float
    binding_limits: list[str]
    freed_by: list[FreedBy] = []
    heat: list[str] = []
    penalty_u: float = 0.0
    bound_u: float = 0.0
    changed: list[Reason] = []
    """What changed since the plan before, and why."""
    overtaken_by: str = ""


class BottleSheet(Derived, frozen=True, kw_only=True, omit_defaults=True):
    """What the hands that carry bottles need of a plan: no sweat, no sodium of the body, no reason."""

    stage_id: str
    stage_number: int
    status: Literal["draft", "published"]
    plan_version: int
    water_l: float
    steps: list[PlanStep]
    kerb_low_l: float
    kerb_high_l: float


class SheetBottle(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One numbered bottle of a prep sheet. A spare is nobody's until it is handed up."""

    number: int
    code: str
    """Opaque id on the label, new for every race; it names nobody and nothing."""
    qr_hex: str
    drink_id: str
    rider_id: str | None = None


class Musette(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Food packed for one rider at one place."""

    rider_id: str
    foods: dict[str, int]


class SheetPlace(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What has to stand ready at one place of the road."""

    place_id: str
    name: str
    kind: Literal["start", "zone", "car", "finish"]
    km: float
    bottles: list[SheetBottle]
    musettes: list[Musette] = []
    ice_kg: float = 0.0


class SheetPortion(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """How much of a supply goes into a litre, and how it is scooped."""

    supply_id: str
    name: str
    g_per_l: float
    scoop_g: float | None = None
    sodium_mg_per_g: float = 0.0


class SheetMix(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One drink to be mixed for the day: its recipe and how much of it."""

    drink_id: str
    name: str
    short_name: str
    bottle_l: float
    n_bottles: int
    volume_l: float
    sodium_mg_per_l: float
    carbohydrate_g_per_l: float
    water_frac: float
    portions: list[SheetPortion] = []


class PrepSheet(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Everything the soigneurs pack for one stage, cut from the riders' plans; nothing of any body."""

    id: str
    basis: Basis
    flags: list[Flag] = []
    stage_id: str
    stage_number: int
    status: Literal["draft", "published"]
    sheet_version: int
    supersedes: int | None = None
    plan_versions: dict[str, int]
    """Rider id -> version of the plan the sheet was cut from."""
    qr_side_n: int
    places: list[SheetPlace]
    mixes: list[SheetMix]
    unplanned_rider_ids: list[str] = []
    """Riders for whom nothing is packed; a sheet never says why."""


class StockLine(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One supply (grams) or food (pieces): what is there, what the rest of the race will use, what to buy."""

    item_id: str
    unit: Literal["g", "n"]
    n_on_hand: float | None = None
    """None when nobody has counted yet."""
    n_used: float = 0.0
    """Used since the last count, by the bottles noted or else planned."""
    n_need_q10: float
    n_need_q50: float
    n_need_q90: float
    n_per_pack: float | None = None
    n_packs_to_buy: int | None = None
    n_days_covered: int | None = None
    """Race days for which what is there lasts, at the high quantile."""
    short_from_stage: int | None = None


class Stock(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What the rest of the race will use, and what to buy for it."""

    id: str
    basis: Basis
    flags: list[Flag] = []
    from_stage: int | None = None
    n_race_days: int
    n_planned_days: int
    """Race days whose plans exist; the others are scaled from their forecasts."""
    lines: list[StockLine]


class Settlement(Derived, frozen=True, kw_only=True, omit_defaults=True):
    """One rider's stage, fluids against scales."""

    stage_id: str
    stage_number: int
    state: Literal["open", "proposed", "settled"]
    handed_up_l: float
    came_back_l: float
    poured_l: float
    lost_l: float
    noted_drunk_l: float
    derived_drunk_l: float
    proposed_drunk_l: float
    drunk_sd_l: float
    drunk_evidence: Evidence
    drunk_low_l: float | None = None
    drunk_high_l: float | None = None
    """Between these lies what was drunk while it is open whether two notes are one bottle."""
    agreed_drunk_l: float | None = None
    agreed_by: str | None = None
    mass_before_kg: float | None = None
    mass_after_kg: float | None = None
    food_kg: float = 0.0
    urine_l: float = 0.0
    sweat_loss_l: float | None = None
    sweat_loss_sd_l: float | None = None
    predicted_q10_l: float | None = None
    predicted_q50_l: float | None = None
    predicted_q90_l: float | None = None
    forecast_rank_frac: float | None = None
    """Share of the forecast's draws below the loss by the scales."""
    model_sweat_l: float | None = None
    body_mass_change_frac: float | None = None
    sodium_drunk_mg: float = 0.0
    sodium_lost_mg: float | None = None
    deficit_l: float | None = None
    unexplained_l: float | None = None
    lane: Literal["dry", "in_lane", "wet", "cant_tell", "nothing_noted"]
    is_used_for_learning: bool = False
    factor_before: float | None = None
    factor_after: float | None = None
    prior_log_mean: float | None = None
    prior_log_sd: float | None = None
    prior_offset_log: float | None = None
    """The factor as known before this stage, drifted to its day: what a settlement would teach follows from it."""


class EveningDrink(Derived, frozen=True, kw_only=True, omit_defaults=True):
    """What one rider still owes after a stage, and what to drink until bed."""

    stage_id: str
    deficit_l: float
    sodium_owed_mg: float
    drink_l: float
    drink_until_bed_l: float
    sodium_mg: float
    max_rate_l_per_h: float
    hours_to_next_start_h: float
    carried_over_l: float
    sodium_until_bed_mg: float = 0.0
    sodium_breakfast_mg: float = 0.0
    breakfast_drink_l: float = 0.0
    drink_sodium_mg_per_l: float = 0.0
    last_drink_at_ms: int | None = None
    rest_day: RestDay | None = None


class AuditRow(Struct, frozen=True, array_like=True):
    """One settled rider-stage in the forecast audit."""

    rider_id: str
    stage_number: int
    predicted_q50_l: float
    settled_l: float
    is_inside_80: bool


class AuditRider(Struct, frozen=True, kw_only=True):
    """How good the forecasts of one rider were."""

    rider_id: str
    n_settled: int
    bias_l: float
    mean_absolute_error_l: float
    coverage_50_frac: float
    coverage_80_frac: float
    coverage_95_frac: float
    mean_rank_frac: float


class ForecastAudit(Struct, frozen=True, kw_only=True):
    """How good the forecasts were, team-wide."""

    id: str
    basis: Basis
    n_settled: int
    bias_l: float
    mean_absolute_error_l: float
    coverage_80_frac: float
    coverage_50_frac: float = 0.0
    coverage_95_frac: float = 0.0
    mean_rank_frac: float = 0.5
    """Where settled losses lay in their forecasts on average: one half is neither dry nor wet."""
    rows: list[AuditRow]
    by_rider: list[AuditRider] = []
