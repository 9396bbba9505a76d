/** A sweat day's figures while they are typed: limits of every field, quality of a sample, agreement of two arms. */

import { parseNumber } from "@/core/display.ts";
import { CONTROL_SPANS, SWEAT_RULES as R } from "@/core/sweat_rules.ts";
import type { CalibratedBody, ControlRead, Remark, SweatSampleBody } from "@/protocol/records.ts";

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

export type Method = NonNullable<SweatSampleBody["method"]>;

export interface SampleFigures {
  sodiumMmolPerL: number | null;
  volumeUl: number | null;
  areaCm2: number | null;
  collectedMin: number | null;
  startedAfterMin: number | null;
  storedDays: number | null;
  isSealed: boolean;
  method?: Method;
  remarks?: readonly Remark[];
}

/** The engine's own codes; the same sample gets the same ones on the server. */
export type QualityCode =
  | "VOL_LOW" | "RATE_LOW" | "RATE_HIGH" | "FIRST_SWEAT" | "STORED" | "STORE_FAIL" | "RANGE_LOW" | "RANGE_HIGH" | "REPEAT"
  | "RANGE_IMPOSSIBLE" | "COND_ONLY" | Remark;

export interface Quality {
  code: QualityCode;
  isStop: boolean;
  values: Readonly<Record<string, number>>;
}

const STOPS: ReadonlySet<QualityCode> = new Set(["VOL_LOW", "STORE_FAIL", "RANGE_IMPOSSIBLE", "QC_FAIL"]);

/** Local sweat rate under the collector [µL/cm²/min]. */
export function localRate(sample: SampleFigures): number | null {
  const { volumeUl, areaCm2, collectedMin } = sample;
  if (volumeUl === null || areaCm2 === null || collectedMin === null || areaCm2 * collectedMin <= 0) return null;
  return volumeUl / (areaCm2 * collectedMin);
}

/** What is wrong with one sample, worst first: all rules live, with the limits the server judges by. */
export function sampleQuality(sample: SampleFigures): Quality[] {
  const { sodiumMmolPerL: mmol, startedAfterMin: min, storedDays, areaCm2, collectedMin, volumeUl } = sample;
  const rate = localRate(sample);
  const days = storedDays ?? 0;
  const needed = R.LOCAL_RATE_MIN_MG_PER_CM2_MIN * (areaCm2 ?? 0) * (collectedMin ?? 0);
  const codes: (QualityCode | null)[] = [
    rate === null ? null : rateCode(rate), ...(mmol === null ? [] : rangeCodes(mmol)), storeCode(sample.isSealed, days),
    ...(sample.remarks ?? []), min !== null && min < R.FIRST_SWEAT_MIN ? "FIRST_SWEAT" : null,
    sample.method === "conductivity" ? "COND_ONLY" : null,
  ];
  const values = { rate: rate ?? 0, needed, volume: volumeUl ?? 0, mmol: mmol ?? 0, days, min: min ?? 0 };
  return codes.filter((code): code is QualityCode => code !== null)
    .map((code) => ({ code, isStop: STOPS.has(code), values }))
    .sort((a, b) => Number(b.isStop) - Number(a.isStop));
}

function rateCode(rate: number): QualityCode | null {
  if (rate < R.LOCAL_RATE_MIN_MG_PER_CM2_MIN) return "VOL_LOW";
  if (rate < R.LOCAL_RATE_LOW_MG_PER_CM2_MIN) return "RATE_LOW";
  return rate > R.LOCAL_RATE_HIGH_MG_PER_CM2_MIN ? "RATE_HIGH" : null;
}

function rangeCodes(mmol: number): QualityCode[] {
  if (mmol > R.SODIUM_IMPOSSIBLE_MMOL_PER_L) return ["RANGE_IMPOSSIBLE"];
  if (mmol > R.SODIUM_REPEAT_MMOL_PER_L) return ["RANGE_HIGH", "REPEAT"];
  if (mmol > R.SODIUM_HIGH_MMOL_PER_L) return ["RANGE_HIGH"];
  return mmol < R.SODIUM_LOW_MMOL_PER_L ? ["RANGE_LOW"] : [];
}

function storeCode(isSealed: boolean, days: number): QualityCode | null {
  if (!isSealed || days > R.STORED_MAX_DAYS) return "STORE_FAIL";
  return days > R.STORED_FRESH_DAYS ? "STORED" : null;
}

export type PairCode = "agree" | "differ" | "repeat";

/** Left against right: within 25 % or 6 mmol/L they agree, beyond 40 % the pair is repeated. */
export function pairQuality(leftMmolPerL: number, rightMmolPerL: number): { code: PairCode; differenceFrac: number } {
  const low = Math.min(leftMmolPerL, rightMmolPerL);
  const gap = Math.abs(leftMmolPerL - rightMmolPerL);
  const differenceFrac = low > 0 ? gap / low : gap > 0 ? 1 : 0;
  if (gap <= R.PAIR_ACCEPT_MMOL_PER_L || differenceFrac <= R.PAIR_ACCEPT_FRAC) return { code: "agree", differenceFrac };
  return { code: differenceFrac <= R.PAIR_REJECT_FRAC ? "differ" : "repeat", differenceFrac };
}

export type MeterCode = "CAL_SLOPE" | "CAL_SPAN" | "CAL_DUE" | "QC_FAIL" | "QC_WARN" | "DRIFT" | "QC_SPAN";

/** What a calibration and its control solutions say of the meter, with the server's codes. */
export function meterQuality(body: CalibratedBody, nSamplesSince: number): MeterCode[] {
  const found: MeterCode[] = [];
  const slope = body.slope_mv_per_decade;
  if (slope < R.SLOPE_LOW_MV_PER_DECADE || slope > R.SLOPE_HIGH_MV_PER_DECADE) found.push("CAL_SLOPE");
  const [low, high] = [Math.min(body.low_mmol_per_l, body.high_mmol_per_l), Math.max(body.low_mmol_per_l, body.high_mmol_per_l)];
  if (low > R.CALIBRATION_LOW_MMOL_PER_L || high < R.CALIBRATION_HIGH_MMOL_PER_L) found.push("CAL_SPAN");
  if (nSamplesSince >= R.CALIBRATION_SAMPLES_N) found.push("CAL_DUE");
  return [...found, ...controlQuality(body.controls ?? [])];
}

function controlQuality(controls: readonly ControlRead[]): MeterCode[] {
  if (controls.length === 0) return [];
  const offs = controls.flatMap(([nominal, before, after]) => [Math.abs(before / nominal - 1), Math.abs(after / nominal - 1)]);
  const worst = Math.max(...offs);
  const drift = Math.max(...controls.map(([nominal, before, after]) => Math.abs((after - before) / nominal)));
  const isIn = ([low, high]: readonly [number, number]): boolean => controls.some(([nominal]) => nominal >= low && nominal <= high);
  const isUsable = Math.max(worst, drift) <= R.CONTROL_STOP_FRAC;
  const found: MeterCode[] = isUsable ? [] : ["QC_FAIL"];
  if (isUsable && worst > R.CONTROL_ACCEPT_FRAC) found.push("QC_WARN");
  if (isUsable && drift > R.CONTROL_ACCEPT_FRAC) found.push("DRIFT");
  if (!isIn(CONTROL_SPANS.CONTROL_LOW_MMOL_PER_L) || !isIn(CONTROL_SPANS.CONTROL_HIGH_MMOL_PER_L)) found.push("QC_SPAN");
  return found;
}

/** What a meter's last calibration says about every sample read on it: a remark that travels with the sample. */
export const remarksOfMeter = (codes: readonly MeterCode[]): Remark[] =>
  codes.filter((code): code is "CAL_SLOPE" | "QC_WARN" | "QC_FAIL" => code === "CAL_SLOPE" || code === "QC_WARN" || code === "QC_FAIL");

/** Times of one rider's collection, as instants [ms]; null until the button was pressed. */
export interface Timer {
  effortMs: number | null;
  onMs: number | null;
  offMs: number | null;
}

/** Minutes a timer stands for: effort before the collector went on, and time it was on. */
export function timerMinutes(timer: Timer): { startedAfterMin: number | null; collectedMin: number | null } {
  const between = (from: number | null, to: number | null): number | null =>
    from === null || to === null || to < from ? null : Math.round((to - from) / 6000) / 10;
  return { startedAfterMin: between(timer.effortMs, timer.onMs), collectedMin: between(timer.onMs, timer.offMs) };
}

const FOREARM_LOG_MEAN = 3.695;
const FOREARM_LOG_SD = 0.401;

/**
 * Of a hundred athletes, how many have saltier sweat on the forearm: a log-normal of mean 43.6 and sd 18.2 mmol/L,
 * 506 athletes, dorsal mid-forearm (Baker and others 2016, doi:10.1080/02640414.2015.1055291).
 */
export function saltierOf100(forearmMmolPerL: number): number {
  if (forearmMmolPerL <= 0) return 100;
  const z = (Math.log(forearmMmolPerL) - FOREARM_LOG_MEAN) / FOREARM_LOG_SD;
  return Math.round(100 * (1 - normalShare(z)));
}

/** Share of a standard normal below z, to four digits (Abramowitz and Stegun 26.2.17). */
export function normalShare(z: number): number {
  const t = 1 / (1 + 0.2316419 * Math.abs(z));
  const poly = t * (0.31938153 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429))));
  const tail = (Math.exp((-z * z) / 2) / Math.sqrt(2 * Math.PI)) * poly;
  return z >= 0 ? 1 - tail : tail;
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
