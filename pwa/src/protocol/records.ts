/** TypeScript twin of server/brinebook/records: the same names, the same units, nothing else. */

import type { Drink, Food, Kit, PlanGoals, PrepSheet, RiderPalate, Stock, Supply } from "@/protocol/pantry.ts";

export type * from "@/protocol/facts.ts";
export type * from "@/protocol/pantry.ts";
export type * from "@/protocol/wire.ts";

export type Role = "rider" | "soigneur" | "car" | "physiologist" | "coach" | "doctor" | "admin";
export type StageKind = "flat" | "hilly" | "mountain" | "time_trial" | "mountain_time_trial" | "rest";
export type RaceRole = "leader" | "domestique" | "breakaway" | "sprinter";
export type EvidenceKind = "weighed" | "measured" | "counted" | "tapped" | "recalled" | "predicted" | "default";
export type Severity = "note" | "caution" | "stop" | "medical";
export type LaneWord = "dry" | "in_lane" | "wet" | "cant_tell" | "nothing_noted";

export interface Edited { id: string; version?: number }
export interface Team extends Edited { name: string; race_name: string; time_zone?: string; is_step_up_asked?: boolean }
export interface Member extends Edited { name: string; role: Role; rider_id?: string | null }
export interface Rider extends Edited { name: string; race_number: number; race_role?: RaceRole }
export interface RiderBody extends Edited {
  mass_kg: number;
  height_m: number;
  age_years: number;
  sex: "m" | "f";
  gross_efficiency_frac?: number | null;
  needs_physician_release?: boolean;
  is_released_by_physician?: boolean;
  max_intake_l_per_h?: number | null;
  released_sodium_mg_per_h?: number | null;
  is_gut_trained?: boolean;
  has_agreed_to_high_carbohydrate?: boolean;
}
/** One course point: [distance_km, elevation_m, latitude_deg, longitude_deg]. */
export type CoursePoint = [distance_km: number, elevation_m: number, latitude_deg: number, longitude_deg: number];
export interface FeedPoint { id: string; name: string; kind: "start" | "zone" | "car"; km: number }
/** A stretch of road on which nobody may be fed. */
export type ClosedSpan = [from_km: number, to_km: number];
/** What the race book closes on one stage, besides the rules of the day. */
export interface FeedingRules {
  closed?: ClosedSpan[];
  is_time_trial_fed?: boolean;
  note?: string;
}
export interface ForecastRow {
  at_ms: number;
  point?: string;
  km?: number;
  elevation_m?: number;
  air_temperature_c: number;
  relative_humidity_frac: number;
  wind_m_per_s?: number;
  wind_from_deg?: number;
  cloud_frac?: number;
  solar_w_per_m2?: number | null;
}
export interface Stage extends Edited {
  number: number;
  day_index: number;
  name: string;
  kind: StageKind;
  start_at_ms: number;
  time_zone: string;
  km0_km?: number;
  scheduled_duration_h?: number | null;
  course?: CoursePoint[];
  feed_points?: FeedPoint[];
  forecast?: ForecastRow[];
  race_role_by_rider?: Record<string, RaceRole>;
  start_offset_s_by_rider?: Record<string, number>;
  feed_opens_km?: number | null;
  feed_closes_to_go_km?: number | null;
  opened_drinks_by_rider?: Record<string, string[]>;
  feeding?: FeedingRules | null;
  note?: string;
}

export interface Basis { engine_version: string; input_ids: string[] }
export interface Flag {
  code: string;
  severity: Severity;
  quantity?: string;
  value?: number | null;
  limit?: number | null;
  detail?: string;
}
export interface Reason {
  code: string;
  quantity?: string;
  before?: number | null;
  after?: number | null;
  evidence?: EvidenceKind;
  source?: string;
}
export interface ExplainedInput { quantity: string; value?: number | null; evidence?: EvidenceKind; source?: string }
export interface ValidRange { quantity: string; low: number; high: number; value: number }
export interface Explained {
  quantity: string;
  value: number;
  equation: string;
  sources: string[];
  inputs: ExplainedInput[];
  valid?: ValidRange[];
}
export interface Derived {
  id: string;
  rider_id: string;
  basis: Basis;
  flags?: Flag[];
  reasons?: Reason[];
  explained?: Explained[];
}
export interface PocketRule {
  code: "every_nth_salty" | "alternate_water" | "standard_only" | "all_salty" | "no_blend";
  target_mg_per_l: number;
  base_drink_id?: string | null;
  salty_drink_id?: string | null;
  one_in_n?: number | null;
  one_in_n_low?: number | null;
  one_in_n_high?: number | null;
  food_id?: string | null;
  food_units_per_salty_bottle?: number | null;
}
export interface RiderProfile extends Derived {
  sweat_factor_median: number;
  sweat_factor_log_sd: number;
  team_offset_log: number;
  n_weighed: number;
  sodium_mean_mmol_per_l: number;
  sodium_sd_mmol_per_l: number;
  sodium_low_mmol_per_l: number;
  sodium_high_mmol_per_l: number;
  sodium_median_forearm_mmol_per_l: number;
  n_sodium_tests: number;
  sodium_evidence: EvidenceKind;
  factor_evidence: EvidenceKind;
  morning_line_kg?: number | null;
  morning_change_frac?: number | null;
  morning_change_since_start_frac?: number | null;
  pocket_rule?: PocketRule | null;
}
/** One place of the road, in this order on the wire. */
export type ProfilePoint = [
  km: number, elevation_m: number, elapsed_h: number, sweat_q10_l: number, sweat_q50_l: number, sweat_q90_l: number,
  air_temperature_c: number,
];
export interface StageForecast extends Derived {
  stage_id: string;
  stage_number: number;
  stage_kind: StageKind;
  duration_h: number;
  mean_power_w: number;
  energy_kcal: number;
  sweat_quantiles_l: number[];
  sweat_q10_l: number;
  sweat_q50_l: number;
  sweat_q90_l: number;
  model_sweat_l: number;
  sodium_q10_mg: number;
  sodium_q50_mg: number;
  sodium_q90_mg: number;
  respiratory_l: number;
  max_wettedness_frac: number;
  share_at_cap_frac: number;
  wbgt_max_c: number;
  air_temperature_max_c: number;
  along: ProfilePoint[];
}
export interface PlanStep {
  feed_id: string;
  feed_name: string;
  km: number;
  until_km: number;
  bottles: Record<string, number>;
  foods?: Record<string, number>;
  drink_l?: number;
  /** How much of each drink to swallow on this stretch. */
  drinks_l?: Record<string, number>;
  /** Units of each food to eat on this stretch, in parts. */
  eat?: Record<string, number>;
}
/** What would free a plan from a limit that holds it back. */
export interface FreedBy {
  limit: string;
  code: string;
  gain_u: number;
  feed_name?: string;
  km?: number | null;
}
/** Planned state at the end of a step, in this order on the wire. */
export type PlanPoint = [
  km: number, intake_l: number, sodium_mg: number, deficit_q50_frac: number, plasma_sodium_low_mmol_per_l: number,
  plasma_sodium_high_mmol_per_l: number,
];
export type BottleSheet = Derived & Pick<StagePlan, "stage_id" | "stage_number" | "status" | "plan_version" | "water_l" | "steps"> & {
  kerb_low_l?: number;
  kerb_high_l?: number;
};

export interface StagePlan extends Derived {
  stage_id: string;
  stage_number: number;
  status: "draft" | "published";
  plan_version: number;
  supersedes?: number | null;
  water_l: number;
  sodium_mg: number;
  carbohydrate_g: number;
  target_water_l: number;
  target_sodium_mg: number;
  lane_low_l: number;
  lane_high_l: number;
  size_low_l?: number | null;
  steps: PlanStep[];
  along: PlanPoint[];
  pre_stage_drink_l: number;
  binding_limits: string[];
  freed_by?: FreedBy[];
  heat?: string[];
  penalty_u?: number;
  bound_u?: number;
  changed?: Reason[];
  overtaken_by?: string;
}
/** A forecast in half litres, without power or mass: what a coach may read of it. */
export type ForecastSummary = Derived & Pick<StageForecast,
  "stage_id" | "stage_number" | "stage_kind" | "duration_h" | "sweat_q10_l" | "sweat_q50_l" | "sweat_q90_l"
  | "wbgt_max_c" | "air_temperature_max_c" | "along">;
/** A plan's bottles, without target, deficit or blood sodium: what a coach may read of it. */
export type PlanSummary = Derived & Pick<StagePlan,
  "stage_id" | "stage_number" | "status" | "plan_version" | "supersedes" | "water_l" | "sodium_mg" | "carbohydrate_g"
  | "steps" | "binding_limits" | "heat" | "changed"> & { along: [km: number, intake_l: number][] };
/** The litres of a settled stage, without masses: what a coach may read. */
export interface SettlementSummary extends Derived {
  stage_id: string;
  stage_number: number;
  state: "open" | "proposed" | "settled";
  proposed_drunk_l: number;
  agreed_drunk_l?: number | null;
  sweat_loss_l?: number | null;
  body_mass_change_frac?: number | null;
  deficit_l?: number | null;
  lane: LaneWord;
}
/** What stays of a settled stage when the entries behind it are let go of by age. */
export interface StageTotal {
  id: string;
  rider_id: string;
  stage_id: string;
  stage_number: number;
  stage_name?: string;
  day?: string;
  lane: LaneWord;
  drunk_l: number;
  drunk_sd_l: number;
  sweat_loss_l?: number | null;
  sweat_loss_sd_l?: number | null;
  sodium_drunk_mg?: number;
  sodium_lost_mg?: number | null;
}

export interface Settlement extends SettlementSummary {
  handed_up_l: number;
  came_back_l: number;
  poured_l: number;
  lost_l: number;
  noted_drunk_l: number;
  derived_drunk_l: number;
  drunk_sd_l: number;
  /** Between these lies what was drunk while it is open whether two notes are one bottle. */
  drunk_low_l?: number | null;
  drunk_high_l?: number | null;
  drunk_evidence: EvidenceKind;
  agreed_by?: string | null;
  mass_before_kg?: number | null;
  mass_after_kg?: number | null;
  food_kg?: number;
  urine_l?: number;
  sweat_loss_sd_l?: number | null;
  predicted_q10_l?: number | null;
  predicted_q50_l?: number | null;
  predicted_q90_l?: number | null;
  forecast_rank_frac?: number | null;
  model_sweat_l?: number | null;
  sodium_drunk_mg?: number;
  sodium_lost_mg?: number | null;
  unexplained_l?: number | null;
  is_used_for_learning?: boolean;
  factor_before?: number | null;
  factor_after?: number | null;
  /** What was known of the factor before this stage: what a settlement would do to it follows from these. */
  prior_log_mean?: number | null;
  prior_log_sd?: number | null;
  prior_offset_log?: number | null;
}
/** A rest day between two stages. */
export interface RestDay { stage_id: string; drink_l: number; usual_l: number; sodium_mg: number }
export interface EveningDrink extends Derived {
  stage_id: string;
  deficit_l: number;
  sodium_owed_mg: number;
  drink_l: number;
  drink_until_bed_l: number;
  sodium_mg: number;
  max_rate_l_per_h: number;
  hours_to_next_start_h: number;
  carried_over_l: number;
  sodium_until_bed_mg?: number;
  sodium_breakfast_mg?: number;
  breakfast_drink_l?: number;
  drink_sodium_mg_per_l?: number;
  last_drink_at_ms?: number | null;
  rest_day?: RestDay | null;
}
/** One settled rider-stage, in this order on the wire. */
export type AuditRow = [
  rider_id: string, stage_number: number, predicted_q50_l: number, settled_l: number, is_inside_80: boolean,
];
export interface AuditRider {
  rider_id: string;
  n_settled: number;
  bias_l: number;
  mean_absolute_error_l: number;
  coverage_50_frac: number;
  coverage_80_frac: number;
  coverage_95_frac: number;
  mean_rank_frac: number;
}
export interface ForecastAudit {
  id: string;
  basis: Basis;
  n_settled: number;
  bias_l: number;
  mean_absolute_error_l: number;
  coverage_80_frac: number;
  coverage_50_frac?: number;
  coverage_95_frac?: number;
  mean_rank_frac?: number;
  by_rider?: AuditRider[];
  rows: AuditRow[];
}

export interface DocumentTypes {
  team: Team;
  member: Member;
  rider: Rider;
  rider_body: RiderBody;
  drink: Drink;
  food: Food;
  supply: Supply;
  rider_palate: RiderPalate;
  kit: Kit;
  plan_goals: PlanGoals;
  prep_sheet: PrepSheet;
  stock: Stock;
  stage: Stage;
  profile: RiderProfile;
  stage_forecast: StageForecast;
  stage_plan: StagePlan;
  plan_summary: PlanSummary;
  forecast_summary: ForecastSummary;
  bottle_sheet: BottleSheet;
  settlement: Settlement;
  settlement_summary: SettlementSummary;
  stage_total: StageTotal;
  evening_drink: EveningDrink;
  forecast_audit: ForecastAudit;
}
export type DocumentType = keyof DocumentTypes;
