/** Rounding and choice of unit: here and nowhere else. */

import { sodiumMg } from "@/core/units.ts";

const rounded = (value: number, step: number): number => Math.round(value / step) * step;
const tidy = (value: number): number => (Object.is(value, -0) ? 0 : value);

let tongue = "en-GB";

/** Numbers follow the person's language; the symbols L, mL, kg and mg stay. */
export function speakNumbersIn(language: string): void {
  tongue = language === "en" ? "en-GB" : language;
}

/** A number with a fixed count of decimals. */
export function decimal(value: number, digits: number): string {
  return new Intl.NumberFormat(tongue, { minimumFractionDigits: digits, maximumFractionDigits: digits })
    .format(tidy(rounded(value, 10 ** -digits)));
}

/** Sums of litres, to the nearest 0.05 L. */
export const litres = (valueL: number): string => `${litresFigure(valueL)} L`;
export const litresFigure = (valueL: number): string => decimal(tidy(rounded(valueL, 0.05)), 2);

/** A single entry, to the nearest 10 mL. */
export const millilitres = (valueL: number): string => `${decimal(tidy(rounded(valueL * 1000, 10)), 0)} mL`;

/** Raw readings of a scale, as read. */
export const kilograms = (valueKg: number): string => `${decimal(valueKg, 1)} kg`;

/** A share as a percentage with one decimal. */
export const percent = (frac: number): string => `${decimal(frac * 100, 1)} %`;

export const kilometres = (valueKm: number): string => `km ${decimal(valueKm, 0)}`;

/** Milligrams of sodium, to the nearest 10 mg. */
export const milligrams = (valueMg: number): string => `${decimal(tidy(rounded(valueMg, 10)), 0)} mg`;

/** Sweat sodium: the trade's mg/L first, mmol/L beside it. */
export const sweatSodium = (mmolPerL: number): string =>
  `${decimal(tidy(rounded(sodiumMg(mmolPerL), 10)), 0)} mg/L (${decimal(mmolPerL, 0)} mmol/L)`;

export const celsius = (valueC: number): string => `${decimal(valueC, 0)} °C`;

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
  return new Intl.DateTimeFormat(tongue, { hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZone }).format(atMs);
}

export function stageDay(atMs: number, timeZone: string): string {
  return new Intl.DateTimeFormat(tongue, { weekday: "short", day: "numeric", month: "short", timeZone }).format(atMs);
}
