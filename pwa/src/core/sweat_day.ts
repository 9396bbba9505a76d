/** A sweat day's figures while they are typed: limits of every field, quality of a sample, agreement of two arms. */

import { parseNumber } from "@/core/display.ts";

/** A number field: its limits are those of the record, so that what this form lets through the server takes. */
export interface FieldRule {
  name: string;
  unit: string;
  low: number;
  high: number;
  isOptional?: boolean;
}

export type FieldIssue = "empty" | "not_a_number" | "too_low" | "too_high" | "two_separators";

export interface Checked {
  value: number | null;
  issue: FieldIssue | null;
}

export const SAMPLE_FIELDS = {
  sodium: { name: "sodium_mmol_per_l", unit: "mmol/L", low: 0, high: 140 },
  volume: { name: "volume_ul", unit: "µL", low: 1, high: 2000 },
  area: { name: "area_cm2", unit: "cm²", low: 0.5, high: 100 },
  collected: { name: "collected_min", unit: "min", low: 1, high: 180 },
  startedAfter: { name: "started_after_min", unit: "min", low: 0, high: 240 },
  stored: { name: "stored_days", unit: "d", low: 0, high: 60 },
} as const satisfies Record<string, FieldRule>;

export const RIDE_FIELDS = {
  before: { name: "mass_before_kg", unit: "kg", low: 30, high: 150 },
  after: { name: "mass_after_kg", unit: "kg", low: 30, high: 150 },
  drunk: { name: "fluid_drunk_l", unit: "L", low: 0, high: 20 },
  food: { name: "food_kg", unit: "kg", low: 0, high: 10, isOptional: true },
  urine: { name: "urine_l", unit: "L", low: 0, high: 5, isOptional: true },
  duration: { name: "duration_h", unit: "h", low: 1, high: 12 },
  power: { name: "power_w", unit: "W", low: 0, high: 2000 },
  temperature: { name: "air_temperature_c", unit: "°C", low: -30, high: 55 },
  humidity: { name: "relative_humidity_frac", unit: "%", low: 0, high: 100 },
  airSpeed: { name: "air_speed_m_per_s", unit: "m/s", low: 0, high: 35 },
  sun: { name: "solar_w_per_m2", unit: "W/m²", low: 0, high: 1400, isOptional: true },
} as const satisfies Record<string, FieldRule>;

/** Read a typed number with a point or a comma; "1.234,5" is refused, never guessed. */
export function typedNumber(text: string): Checked {
  const bare = text.trim();
  if (bare === "") return { value: null, issue: "empty" };
  if ((bare.match(/[.,]/g) ?? []).length > 1) return { value: null, issue: "two_separators" };
  const value = parseNumber(bare);
  return value === null ? { value, issue: "not_a_number" } : { value, issue: null };
}

/** A typed number against the limits of its field. */
export function checked(text: string, rule: FieldRule): Checked {
  const found = typedNumber(text);
  if (found.issue === "empty" && rule.isOptional === true) return { value: null, issue: null };
  if (found.value === null) return found;
  if (found.value < rule.low) return { value: null, issue: "too_low" };
  if (found.value > rule.high) return { value: null, issue: "too_high" };
  return found;
}

export interface SampleFigures {
  sodiumMmolPerL: number | null;
  volumeUl: number | null;
  areaCm2: number | null;
  collectedMin: number | null;
  startedAfterMin: number | null;
  storedDays: number | null;
  isSealed: boolean;
}

export type QualityCode =
  | "vol_low" | "rate_low" | "rate_high" | "first_sweat" | "stored" | "store_fail" | "unsealed"
  | "range_low" | "range_high" | "range_repeat";

export interface Quality {
  code: QualityCode;
  isStop: boolean;
  values: Readonly<Record<string, number>>;
}

const RATE_MIN_UL_PER_CM2_MIN = 0.1;
const RATE_SLOW_UL_PER_CM2_MIN = 0.25;
const RATE_FAST_UL_PER_CM2_MIN = 2.5;
const STEADY_AFTER_MIN = 20;
const FRESH_DAYS = 1;
const KEPT_DAYS = 7;
const SEEN_LOW_MMOL_PER_L = 7;
const SEEN_HIGH_MMOL_PER_L = 105;
const REPEAT_ABOVE_MMOL_PER_L = 120;

/** Local sweat rate under the collector [µL/cm²/min]. */
export function localRate(sample: SampleFigures): number | null {
  const { volumeUl, areaCm2, collectedMin } = sample;
  if (volumeUl === null || areaCm2 === null || collectedMin === null || areaCm2 * collectedMin <= 0) return null;
  return volumeUl / (areaCm2 * collectedMin);
}

/** What is wrong with one sample, worst first; the server judges again with the same limits. */
export function sampleQuality(sample: SampleFigures): Quality[] {
  const found = [...rateQuality(sample), ...storeQuality(sample), ...rangeQuality(sample)];
  if (sample.startedAfterMin !== null && sample.startedAfterMin < STEADY_AFTER_MIN) {
    found.push({ code: "first_sweat", isStop: false, values: { min: sample.startedAfterMin } });
  }
  return found.sort((a, b) => Number(b.isStop) - Number(a.isStop));
}

function rateQuality(sample: SampleFigures): Quality[] {
  const rate = localRate(sample);
  if (rate === null) return [];
  const needed = RATE_MIN_UL_PER_CM2_MIN * (sample.areaCm2 ?? 0) * (sample.collectedMin ?? 0);
  const values = { rate, needed, volume: sample.volumeUl ?? 0 };
  if (rate < RATE_MIN_UL_PER_CM2_MIN) return [{ code: "vol_low", isStop: true, values }];
  if (rate < RATE_SLOW_UL_PER_CM2_MIN) return [{ code: "rate_low", isStop: false, values }];
  return rate > RATE_FAST_UL_PER_CM2_MIN ? [{ code: "rate_high", isStop: false, values }] : [];
}

function storeQuality(sample: SampleFigures): Quality[] {
  if (!sample.isSealed) return [{ code: "unsealed", isStop: true, values: {} }];
  const days = sample.storedDays ?? 0;
  if (days > KEPT_DAYS) return [{ code: "store_fail", isStop: true, values: { days } }];
  return days > FRESH_DAYS ? [{ code: "stored", isStop: false, values: { days } }] : [];
}

function rangeQuality(sample: SampleFigures): Quality[] {
  const mmol = sample.sodiumMmolPerL;
  if (mmol === null) return [];
  const values = { mmol };
  if (mmol > REPEAT_ABOVE_MMOL_PER_L) return [{ code: "range_repeat", isStop: true, values }];
  if (mmol > SEEN_HIGH_MMOL_PER_L) return [{ code: "range_high", isStop: false, values }];
  return mmol < SEEN_LOW_MMOL_PER_L ? [{ code: "range_low", isStop: false, values }] : [];
}

export type PairCode = "agree" | "differ" | "repeat";

/** Left against right: within 25 % or 6 mmol/L they agree, beyond 40 % the pair is repeated. */
export function pairQuality(leftMmolPerL: number, rightMmolPerL: number): { code: PairCode; differenceFrac: number } {
  const low = Math.min(leftMmolPerL, rightMmolPerL);
  const gap = Math.abs(leftMmolPerL - rightMmolPerL);
  const differenceFrac = low > 0 ? gap / low : gap > 0 ? 1 : 0;
  if (gap <= 6 || differenceFrac <= 0.25) return { code: "agree", differenceFrac };
  return { code: differenceFrac <= 0.4 ? "differ" : "repeat", differenceFrac };
}

export interface RideFigures {
  beforeKg: number;
  afterKg: number;
  drunkL: number;
  foodKg: number;
  urineL: number;
  durationH: number;
}

/** Water that left the rider between two weighings, breath and burnt fuel still included. */
export function massLost(ride: RideFigures): { lostL: number; rateLPerH: number } {
  const lostL = ride.beforeKg - ride.afterKg + ride.drunkL + ride.foodKg - ride.urineL;
  return { lostL, rateLPerH: lostL / ride.durationH };
}
