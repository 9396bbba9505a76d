/** Rounding and choice of unit: here and nowhere else. */

import { kgFromLb, kmFromMiles, lbFromKg, litresFromUsFlOz, milesFromKm, sodiumMg, usFlOzFromLitres } from "@/core/units.ts";

/** What a person reads and types; tables and the wire keep litres, kilograms, degrees Celsius and kilometres. */
export interface Units {
  readonly volume: "metric" | "us";
  readonly mass: "kg" | "lb";
  readonly temperature: "c" | "f";
  readonly distance: "km" | "mi";
}
export const METRIC: Units = { volume: "metric", mass: "kg", temperature: "c", distance: "km" };

let units: Units = METRIC;

/** From here on show and read these units. */
export function showUnitsIn(chosen: Units): void {
  units = chosen;
}

const rounded = (value: number, step: number): number => Math.round(value / step) * step;
const tidy = (value: number): number => (Object.is(value, -0) ? 0 : value);

export let tongue = "en-GB";

/** Numbers follow the person's language; the symbols L, mL, kg and mg stay. */
export function speakNumbersIn(language: string): void {
  tongue = language === "en" ? "en-GB" : language;
}

/** Making a format costs milliseconds, so each is made once. */
const formats = new Map<string, Intl.NumberFormat | Intl.DateTimeFormat>();

export function kept<F extends Intl.NumberFormat | Intl.DateTimeFormat>(name: string, make: () => F): F {
  const found = (formats.get(name) as F | undefined) ?? make();
  formats.set(name, found);
  return found;
}

/** A number with a fixed count of decimals. Below a thousand nothing is grouped, and the language's tables can rest. */
export function decimal(value: number, digits: number): string {
  const shown = tidy(rounded(value, 10 ** -digits));
  if (Math.abs(shown) < 999) return shown.toFixed(digits).replace(".", tongue === "en-GB" ? "." : ",");
  const options = { minimumFractionDigits: digits, maximumFractionDigits: digits };
  return kept(`${tongue} ${digits}`, () => new Intl.NumberFormat(tongue, options)).format(shown);
}

/** A figure and its unit, for places that set them in two sizes. */
export interface Figure {
  readonly figure: string;
  readonly unit: string;
}
const joined = ({ figure, unit }: Figure): string => `${figure} ${unit}`;

/** Sums of litres, to the nearest 0.05 L or 1 US fl oz. */
export const volume = (valueL: number): Figure => units.volume === "metric"
  ? { figure: litresFigure(valueL), unit: "L" } : { figure: decimal(tidy(usFlOzFromLitres(valueL)), 0), unit: "fl oz" };
export const litres = (valueL: number): string => joined(volume(valueL));
/** Litres for a table whose head names them, whatever was chosen. */
export const litresFigure = (valueL: number): string => decimal(tidy(rounded(valueL, 0.05)), 2);
/** "1.9–2.6 L": two sums and one unit. */
export const litresRange = (lowL: number, highL: number): string => `${volume(lowL).figure}–${litres(highL)}`;

/** A single entry, to the nearest 10 mL or half a US fl oz. */
export const millilitres = (valueL: number): string => units.volume === "metric"
  ? `${decimal(tidy(rounded(valueL * 1000, 10)), 0)} mL` : `${decimal(tidy(rounded(usFlOzFromLitres(valueL), 0.5)), 1)} fl oz`;

/** Raw readings of a scale, as read. */
export const kilograms = (valueKg: number): string =>
  units.mass === "kg" ? `${decimal(valueKg, 1)} kg` : `${decimal(lbFromKg(valueKg), 1)} lb`;

/** What a typed number counts: the unit to print behind the field, and the way from it to the canonical one. */
export interface Typed {
  readonly unit: string;
  /** The unit as a record names it; null where it is the book's own. */
  readonly recorded: "lb" | "us_fl_oz" | null;
  readonly toCanonical: (typed: number) => number;
  readonly toTyped: (canonical: number) => number;
}
const same = (value: number): number => value;
export const typedMass = (): Typed => units.mass === "kg"
  ? { unit: "kg", recorded: null, toCanonical: same, toTyped: same } : { unit: "lb", recorded: "lb", toCanonical: kgFromLb, toTyped: lbFromKg };
export const typedVolume = (): Typed => units.volume === "metric"
  ? { unit: "L", recorded: null, toCanonical: same, toTyped: same }
  : { unit: "fl oz", recorded: "us_fl_oz", toCanonical: litresFromUsFlOz, toTyped: usFlOzFromLitres };

/** What was typed, for the record, by the name of each field whose unit is not the book's own; nothing when all are. */
export function asTyped(figures: Readonly<Record<string, readonly [Typed, number | null]>>): { typed?: Record<string, { value: number; unit: "lb" | "us_fl_oz" }> } {
  const typed: Record<string, { value: number; unit: "lb" | "us_fl_oz" }> = {};
  for (const [field, [measure, value]] of Object.entries(figures)) {
    if (measure.recorded !== null && value !== null) typed[field] = { value, unit: measure.recorded };
  }
  return Object.keys(typed).length === 0 ? {} : { typed };
}

/** A share as a percentage with one decimal. */
export const percent = (frac: number): string => `${decimal(frac * 100, 1)} %`;

/** A place on the road, as roadbooks print it. */
export const kilometres = (valueKm: number): string =>
  units.distance === "km" ? `km ${decimal(valueKm, 0)}` : `mi ${decimal(milesFromKm(valueKm), 0)}`;
/** What somebody typed as a place on the road, in km. */
export const kmOfTyped = (typed: number): number => (units.distance === "km" ? typed : kmFromMiles(typed));

/** Milligrams of sodium, to the nearest 10 mg. */
export const milligrams = (valueMg: number): string => `${decimal(tidy(rounded(valueMg, 10)), 0)} mg`;

/** Sweat sodium: the trade's mg/L first, mmol/L beside it. */
export const sweatSodium = (mmolPerL: number): string =>
  `${decimal(tidy(rounded(sodiumMg(mmolPerL), 10)), 0)} mg/L (${decimal(mmolPerL, 0)} mmol/L)`;

export const celsius = (valueC: number): string =>
  units.temperature === "c" ? `${decimal(valueC, 0)} °C` : `${decimal(valueC * 1.8 + 32, 0)} °F`;

export const hours = (valueH: number): string => {
  const minutes = Math.round(valueH * 60);
  return `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")}`;
};

const FRACTIONS: Readonly<Record<number, string>> = { 0: "0", 1: "¼", 2: "½", 3: "¾" };

/** A bottle level or a count in quarters: 0, ¼, ½, ¾, 1, 1½ … */
export function quarters(value: number): string {
  const total = Math.round(value * 4);
  const whole = Math.floor(total / 4);
  const part = FRACTIONS[total % 4] ?? "";
  if (whole === 0) return part;
  return part === "0" ? String(whole) : `${whole}${part}`;
}

/** Read a typed number with a comma or a point; null when it is none, or when it could be read two ways. */
export function parseNumber(typed: string): number | null {
  const text = typed.trim().replace(/[\u00a0\u202f\s]/g, "");
  if (!/^-?\d+([.,]\d+)?$/.test(text)) return null;
  return Number(text.replace(",", "."));
}

/** Time of day at the stage, 24 h. */
export function stageTime(atMs: number, timeZone: string): string {
  const options = { hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZone } as const;
  return kept(`${tongue} ${timeZone} time`, () => new Intl.DateTimeFormat(tongue, options)).format(atMs);
}

export function stageDay(atMs: number, timeZone: string): string {
  const options = { weekday: "short", day: "numeric", month: "short", timeZone } as const;
  return kept(`${tongue} ${timeZone} day`, () => new Intl.DateTimeFormat(tongue, options)).format(atMs);
}

const PLAIN = /^[ -~]*$/;

/** Names in the order a person expects; plain ones need no tables of a language. */
export function byName(a: string, b: string): number {
  if (!PLAIN.test(a + b)) return a.localeCompare(b);
  const [x, y] = [a.toLowerCase(), b.toLowerCase()];
  return x < y ? -1 : Number(x > y);
}
