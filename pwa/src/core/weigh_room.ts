/** The weigh room: fields of each moment, their limits, and what they become. Pure, so that it can be held to its limits. */

import { parseNumber } from "@/core/display.ts";
import type { CameBackBody, FactEvent, MorningCheckBody, WeighedBody } from "@/protocol/records.ts";

export type Moment = "before" | "after" | "morning" | "bottles";
export const MOMENTS = ["before", "after", "morning", "bottles"] as const satisfies readonly Moment[];

export interface Rule {
  readonly unit: string;
  readonly low: number;
  readonly high: number;
  readonly isNeeded?: boolean;
}

export const FIELDS = {
  mass: { unit: "kg", low: 30, high: 150, isNeeded: true },
  mass2: { unit: "kg", low: 30, high: 150 },
  mass3: { unit: "kg", low: 30, high: 150 },
  food: { unit: "kg", low: 0, high: 10 },
  urine: { unit: "L", low: 0, high: 5 },
  gravity: { unit: "", low: 1, high: 1.06 },
  sleep: { unit: "h", low: 0, high: 16 },
  gross: { unit: "g", low: 0, high: 10_000, isNeeded: true },
  tare: { unit: "g", low: 0, high: 1000, isNeeded: true },
  bottles: { unit: "", low: 1, high: 12, isNeeded: true },
} as const satisfies Record<string, Rule>;
export type FieldName = keyof typeof FIELDS;

export const FIELDS_OF: Readonly<Record<Moment, readonly FieldName[]>> = {
  before: ["mass", "mass2", "mass3"], after: ["mass", "mass2", "mass3", "food", "urine"], morning: ["mass", "mass2", "mass3", "gravity", "sleep"],
  bottles: ["gross", "tare", "bottles"],
};

/** What is typed at one weighing. */
export interface Typed {
  texts: Partial<Record<FieldName, string>>;
  colour: number | null;
  thirst: number | null;
  isDry: boolean;
  isIll: boolean;
}

export const NOTHING_TYPED: Typed = { texts: {}, colour: null, thirst: null, isDry: true, isIll: false };

export type Fault = "notNumber" | "between" | "whole";

export function faultOf(name: FieldName, text: string): Fault | null {
  const rule: Rule = FIELDS[name];
  if (text.trim() === "") return rule.isNeeded === true ? "between" : null;
  const value = parseNumber(text);
  if (value === null) return "notNumber";
  if (value < rule.low || value > rule.high) return "between";
  return name === "bottles" && !Number.isInteger(value) ? "whole" : null;
}

const valueOf = (typed: Typed, name: FieldName): number | null =>
  faultOf(name, typed.texts[name] ?? "") === null ? parseNumber(typed.texts[name] ?? "") : null;

/** Two readings of one scale agree within this much: common practice with scales that show 0.1 kg or finer, no source. */
export const READINGS_AGREE_KG = 0.1;

/** What several readings of one scale come to. */
export interface Readings {
  readonly readingsKg: readonly number[];
  /** From the lightest to the heaviest. */
  readonly spreadKg: number;
  readonly isApart: boolean;
  /** The mean of two, the middle one of three. */
  readonly massKg: number;
}

const grams = (kg: number): number => Math.round(kg * 1000) / 1000;

/** The readings typed so far; null while there are fewer than two. A third without a second stands as the second. */
export function readingsOf(typed: Typed): Readings | null {
  const readingsKg = (["mass", "mass2", "mass3"] as const).map((name) => valueOf(typed, name)).filter((kg) => kg !== null);
  if (readingsKg.length < 2 || valueOf(typed, "mass") === null) return null;
  const sorted = [...readingsKg].sort((a, b) => a - b);
  const [low, high] = [sorted[0] ?? 0, sorted.at(-1) ?? 0];
  const spreadKg = grams(high - low);
  return {
    readingsKg, spreadKg, isApart: spreadKg > READINGS_AGREE_KG,
    massKg: grams(sorted.length === 3 ? (sorted[1] ?? 0) : (low + high) / 2),
  };
}

/** A third reading is asked for once two lie apart, and stays once it is typed. */
export function isThirdAsked(typed: Typed): boolean {
  return (typed.texts.mass3 ?? "") !== "" || (readingsOf(typed)?.isApart ?? false);
}

function massOf(typed: Typed): { mass_kg: number; readings_kg?: number[] } {
  const readings = readingsOf(typed);
  if (readings === null) return { mass_kg: valueOf(typed, "mass") ?? 0 };
  return { mass_kg: readings.massKg, readings_kg: [...readings.readingsKg] };
}

/** Litres left in weighed bottles, a gram a millilitre; null while a figure is missing or the tare is too high. */
export function leftL(typed: Typed): number | null {
  const [gross, tare, bottles] = [valueOf(typed, "gross"), valueOf(typed, "tare"), valueOf(typed, "bottles")];
  if (gross === null || tare === null || bottles === null || gross < tare * bottles) return null;
  return Math.round(gross - tare * bottles) / 1000;
}

export const isTareHigh = (typed: Typed): boolean =>
  (["gross", "tare", "bottles"] as const).every((name) => valueOf(typed, name) !== null) && leftL(typed) === null;

export const mayKeep = (moment: Moment, typed: Typed): boolean =>
  FIELDS_OF[moment].every((name) => faultOf(name, typed.texts[name] ?? "") === null) && (moment !== "bottles" || leftL(typed) !== null);

export function weighedBody(moment: "before" | "after", typed: Typed): WeighedBody {
  const after = moment === "after" ? { food_kg: valueOf(typed, "food") ?? 0, urine_l: valueOf(typed, "urine") ?? 0 } : {};
  return { moment, ...massOf(typed), ...after, ...(typed.isDry ? {} : { is_kit_dry: false }) };
}

export function morningBody(typed: Typed): MorningCheckBody {
  const [gravity, sleepH] = [valueOf(typed, "gravity"), valueOf(typed, "sleep")];
  return {
    ...massOf(typed),
    ...(typed.colour === null ? {} : { urine_colour: typed.colour }),
    ...(typed.thirst === null ? {} : { thirst: typed.thirst }),
    ...(gravity === null ? {} : { urine_gravity_factor: gravity }),
    ...(sleepH === null ? {} : { sleep_h: sleepH }),
    ...(typed.isIll ? { is_ill: true } : {}),
  };
}

export function bottlesBody(typed: Typed): CameBackBody {
  const bottles = valueOf(typed, "bottles") ?? 1;
  return {
    left_l: leftL(typed) ?? 0, how: "weighed", gross_kg: (valueOf(typed, "gross") ?? 0) / 1000,
    tare_kg: ((valueOf(typed, "tare") ?? 0) * bottles) / 1000,
  };
}

/** Riders who have an entry of this moment on this stage: that it is there, never what it says. */
export function doneBy(events: Iterable<FactEvent>, stageId: string | null, moment: Moment): Set<string> {
  const done = new Set<string>();
  for (const event of events) {
    if ((event.stage_id ?? null) !== stageId) continue;
    const isIt = moment === "morning" ? event.kind === "morning_check"
      : moment === "bottles" ? event.kind === "came_back" && (event.body as CameBackBody).how === "weighed"
        : event.kind === "weighed" && (event.body as WeighedBody).moment === moment;
    if (isIt) done.add(event.subject_id);
  }
  return done;
}
