/** Drinks, foods, what they are made of, and the sheets cut from the plans: twins of the server's records. */

import type { Basis, Edited, Flag } from "@/protocol/records.ts";

export type Allergen =
  | "gluten" | "crustaceans" | "eggs" | "fish" | "peanuts" | "soybeans" | "milk" | "nuts" | "celery" | "mustard"
  | "sesame" | "sulphites" | "lupin" | "molluscs";
export type Sugar = "unknown" | "none" | "single" | "mixed";

/** One line of a label as it was typed. */
export interface LabelLine {
  nutrient: "sodium" | "salt" | "carbohydrate" | "fructose";
  typed: number;
  unit: "mg" | "g" | "mmol";
  basis: "serving" | "100_g" | "100_ml" | "litre";
}
export interface Supply extends Edited {
  name: string;
  kind?: "powder" | "table_salt" | "citrate";
  sodium_mg_per_g?: number;
  carbohydrate_g_per_g?: number;
  fructose_frac?: number | null;
  sucrose_frac?: number;
  maltodextrin_frac?: number;
  dextrose_equivalent_n?: number;
  scoop_g?: number | null;
  pack_g?: number | null;
  serving_g?: number | null;
  serving_l?: number | null;
  label?: LabelLine[];
  answered?: string[];
  allergens?: Allergen[];
  flavour?: string;
}
export interface Portion { supply_id: string; g_per_l: number }
export interface Drink extends Edited {
  name: string;
  short_name: string;
  kind?: "water" | "standard" | "high_sodium" | "other";
  bottle_l?: number;
  sodium_mg_per_l: number;
  carbohydrate_g_per_l?: number;
  osmolality_mosm_per_kg?: number | null;
  recipe?: Portion[];
  sugar?: Sugar;
  fructose_frac?: number | null;
  allergens?: Allergen[];
  flavour?: string;
  is_finish_bottle?: boolean;
  conductivity_ms_per_cm?: number | null;
}
export interface Food extends Edited {
  name: string;
  carbohydrate_g: number;
  sodium_mg: number;
  water_l?: number;
  mass_kg?: number;
  sugar?: Sugar;
  fructose_frac?: number | null;
  allergens?: Allergen[];
  flavour?: string;
  n_per_pack?: number | null;
}
export interface RiderPalate extends Edited { likes?: string[]; cannot?: string[]; cannot_allergens?: Allergen[] }
export type LabelStock = "a4_3x8" | "a4_2x7" | "letter_3x10" | "letter_2x5" | "roll_62";
export interface Kit extends Edited {
  buckets_l?: number[];
  label_stock?: LabelStock;
  nudge_right_mm?: number;
  nudge_down_mm?: number;
  spare_frac?: number;
  drinks_cooled_to_c?: number;
}

/** How much more than by default a goal of a plan counts; limits are no part of it. */
export interface PlanGoals extends Edited {
  deficit_factor?: number;
  water_factor?: number;
  sodium_factor?: number;
  carbohydrate_factor?: number;
  hand_up_factor?: number;
  variety_factor?: number;
  even_factor?: number;
  risk_factor?: number;
}

export interface MeasuredSupply { supply_id: string; mass_g: number }
export interface MixCheckBody {
  drink_id: string;
  sodium_mg_per_l: number;
  sodium_sd_mg_per_l?: number;
  how?: "stated" | "weighed" | "conductivity" | "refractometer";
  supplies?: MeasuredSupply[];
  water_l?: number;
  conductivity_ms_per_cm?: number;
  temperature_c?: number;
  sucrose_g_per_100_g?: number;
}
export interface StockCountedBody { item_id: string; n_amount: number }
export type DeliveredBody = StockCountedBody;
export interface SheetPrintedBody { what: "prep" | "labels" | "cards"; sheet_version: number }

export interface SheetBottle { number: number; code: string; qr_hex: string; drink_id: string; rider_id?: string | null }
export interface Musette { rider_id: string; foods: Record<string, number> }
export interface SheetPlace {
  place_id: string;
  name: string;
  kind: "start" | "zone" | "car" | "finish";
  km: number;
  bottles: SheetBottle[];
  musettes?: Musette[];
  ice_kg?: number;
}
export interface SheetPortion { supply_id: string; name: string; g_per_l: number; scoop_g?: number | null; sodium_mg_per_g?: number }
export interface SheetMix {
  drink_id: string;
  name: string;
  short_name: string;
  bottle_l: number;
  n_bottles: number;
  volume_l: number;
  sodium_mg_per_l: number;
  carbohydrate_g_per_l: number;
  water_frac: number;
  portions?: SheetPortion[];
}
export interface PrepSheet {
  id: string;
  basis: Basis;
  flags?: Flag[];
  stage_id: string;
  stage_number: number;
  status: "draft" | "published";
  sheet_version: number;
  supersedes?: number | null;
  plan_versions: Record<string, number>;
  qr_side_n: number;
  places: SheetPlace[];
  mixes: SheetMix[];
  unplanned_rider_ids?: string[];
}
export interface StockLine {
  item_id: string;
  unit: "g" | "n";
  n_on_hand?: number | null;
  n_used?: number;
  n_need_q10: number;
  n_need_q50: number;
  n_need_q90: number;
  n_per_pack?: number | null;
  n_packs_to_buy?: number | null;
  n_days_covered?: number | null;
  short_from_stage?: number | null;
}
export interface Stock {
  id: string;
  basis: Basis;
  flags?: Flag[];
  from_stage?: number | null;
  n_race_days: number;
  n_planned_days: number;
  lines: StockLine[];
}
