/** TypeScript twin of server/brinebook/records/facts.py: the same names, the same units, nothing else. */

import type { DeliveredBody, MixCheckBody, SheetPrintedBody, StockCountedBody } from "@/protocol/pantry.ts";

export interface FactEvent<B = unknown> {
  id: string;
  kind: string;
  v?: number;
  subject_id: string;
  by: string;
  device_id: string;
  n: number;
  lamport: number;
  at_ms: number;
  offset_ms?: number | null;
  tz_min?: number;
  stage_id?: string | null;
  ref?: string | null;
  body: B;
}

export interface DrankBody {
  volume_l: number;
  how: "level" | "count" | "recall";
  drink_id?: string;
  bottle?: "down_tube" | "seat_tube";
  level_before_frac?: number;
  level_after_frac?: number;
  km?: number;
  from_km?: number;
  to_km?: number;
  is_doubtful?: boolean;
}
export interface HandedUpBody {
  n_bottles?: number;
  volume_l: number;
  drink_id: string;
  feed_km?: number;
  carried_by?: string;
}
export interface CameBackBody {
  left_l: number;
  how: "counted" | "weighed";
  drink_id?: string;
  gross_kg?: number;
  tare_kg?: number;
}
export interface PouredBody { volume_l: number; drink_id?: string }
export type LostBody = PouredBody;
export interface AteBody { food_id: string; n_units: number }
export interface WeighedBody {
  moment: "before" | "after";
  mass_kg: number;
  /** As the scale showed them, where somebody read it more than once; the mass is their mean or their middle. */
  readings_kg?: number[];
  is_kit_dry?: boolean;
  food_kg?: number;
  urine_l?: number;
  energy_kcal?: number;
  kit_sweat_kg?: number;
  stool_kg?: number;
  /** By field, what was typed in a unit that is not the book's own. */
  typed?: Record<string, TypedFigure>;
}
export interface TypedFigure {
  value: number;
  unit: "lb" | "us_fl_oz";
}
export interface MorningCheckBody {
  mass_kg: number;
  readings_kg?: number[];
  urine_colour?: number;
  thirst?: number;
  urine_gravity_factor?: number;
  sleep_h?: number;
  is_ill?: boolean;
}
export interface SweatSampleBody {
  site: "dorsal_forearm" | "ventral_forearm";
  side: "left" | "right";
  sodium_mmol_per_l: number;
  volume_ul: number;
  area_cm2: number;
  collected_min: number;
  started_after_min?: number;
  method?: "ion_selective" | "ion_chromatography" | "flame" | "conductivity";
  is_sealed?: boolean;
  stored_days?: number;
  remarks?: Remark[];
  analyser?: string;
  analyser_need_ul?: number;
  chloride_mmol_per_l?: number | null;
  potassium_mmol_per_l?: number | null;
  diluent_ul?: number;
  background_mg?: number;
  evaporated_frac?: number;
}
export type Remark =
  | "VOL_FULL" | "LEAK" | "DETACHED" | "TATTOO_OR_WOUND" | "CAL_SLOPE" | "QC_WARN" | "QC_FAIL" | "DUP_READ" | "NA_CL";
export interface WeighedRideBody {
  mass_before_kg: number;
  mass_after_kg: number;
  fluid_drunk_l: number;
  food_kg?: number;
  urine_l?: number;
  duration_h: number;
  power_w: number;
  air_temperature_c: number;
  relative_humidity_frac: number;
  air_speed_m_per_s: number;
  solar_w_per_m2?: number;
  kit_sweat_kg?: number;
  stool_kg?: number;
}
/** The end of one even step of a ride: end_km, elapsed_h, power_w. */
export type RiddenStep = [end_km: number, elapsed_h: number, power_w: number | null];
export interface RiddenBody {
  started_at_ms: number;
  duration_h: number;
  length_km: number;
  work_kj: number;
  mean_power_w?: number;
  missing_power_frac?: number;
  paused_h?: number;
  n_pauses?: number;
  work_ratio_frac?: number | null;
  file_kind: "fit" | "tcx" | "gpx";
  along: RiddenStep[];
}
export interface SymptomBody {
  symptom: "headache" | "nausea" | "vomiting" | "bloating" | "puffy_hands" | "cramp" | "dizzy" | "confused" | "other";
  note?: string;
}
export interface NoteBody { text: string }
export interface AmendBody { set: Record<string, number | string | boolean | null> }
export type VoidBody = Record<string, never>;
export interface LinkBody { a: string; b: string; keep: string }
export interface AgreedBody {
  drunk_l: number;
  proposed_l?: number;
  reason?: "" | "scale_fault" | "missed_bottle" | "ate_or_voided" | "clothing" | "other";
  over?: string[];
  note?: string;
}
export interface ReopenedBody { reason: string }
export interface ContestedBody { reason?: string }
export interface TeamCountBody {
  what: "loaded" | "left_over" | "came_back" | "lost";
  n_bottles: number;
  volume_l: number;
  place?: string;
}
export interface AcknowledgedBody { code: string; note?: string }
/** A control solution: nominal_mmol_per_l, before_mmol_per_l, after_mmol_per_l. */
export type ControlRead = [nominal_mmol_per_l: number, before_mmol_per_l: number, after_mmol_per_l: number];
export interface CalibratedBody {
  analyser: string;
  slope_mv_per_decade: number;
  temperature_c?: number;
  low_mmol_per_l: number;
  high_mmol_per_l: number;
  controls?: ControlRead[];
}
export interface CollectionBookedBody { on_ms: number; place?: string; rider_ids: string[]; note?: string }

export interface BodyByKind {
  drank: DrankBody;
  handed_up: HandedUpBody;
  came_back: CameBackBody;
  poured: PouredBody;
  lost: LostBody;
  ate: AteBody;
  weighed: WeighedBody;
  morning_check: MorningCheckBody;
  sweat_sample: SweatSampleBody;
  weighed_ride: WeighedRideBody;
  ridden: RiddenBody;
  mix_check: MixCheckBody;
  stock_counted: StockCountedBody;
  delivered: DeliveredBody;
  sheet_printed: SheetPrintedBody;
  symptom: SymptomBody;
  note: NoteBody;
  amend: AmendBody;
  void: VoidBody;
  link: LinkBody;
  unlink: LinkBody;
  agreed: AgreedBody;
  reopened: ReopenedBody;
  contested: ContestedBody;
  team_count: TeamCountBody;
  acknowledged: AcknowledgedBody;
  calibrated: CalibratedBody;
  collection_booked: CollectionBookedBody;
}
export type FactKind = keyof BodyByKind;
