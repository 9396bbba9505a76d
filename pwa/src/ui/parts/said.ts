/** Sentences for what the server says in codes. */

import { celsius, decimal, kilograms, litres, milligrams, percent } from "@/core/display.ts";
import type { Flag, Reason } from "@/protocol/records.ts";
import { spoken, t } from "@/ui/words.ts";

const plainly = (code: string): string => code.replaceAll("_", " ");

/** A figure of unknown kind with as many digits as its size supports. */
export function figure(value: number | null | undefined): string {
  if (value === null || value === undefined) return "";
  const size = Math.abs(value);
  return decimal(value, size >= 20 ? 0 : size >= 1 ? 1 : 2);
}

const BY_SUFFIX: readonly (readonly [RegExp, (value: number) => string])[] = [
  [/^n_/, (value) => decimal(value, 0)],
  [/_frac$/, percent],
  [/_spread_factor$/, (value) => `×/÷ ${decimal(value, 2)}`],
  [/_factor$/, (value) => `× ${decimal(value, 2)}`],
  [/_l_per_h$/, (value) => `${decimal(value, 2)} L/h`],
  [/_mmol_per_l$/, (value) => `${decimal(value, 0)} mmol/L`],
  [/_mg_per_l$/, (value) => `${decimal(value, 0)} mg/L`],
  [/_g_per_h$/, (value) => `${decimal(value, 0)} g/h`],
  [/_mg$/, milligrams],
  [/_kg$/, kilograms],
  [/_l$/, litres],
  [/_c$/, celsius],
  [/_w$/, (value) => `${decimal(value, 0)} W`],
  [/_h$/, (value) => `${decimal(value, 2)} h`],
  [/_kcal$/, (value) => `${decimal(value, 0)} kcal`],
];

const UNIT_WORDS = /_(mmol_per_l|mg_per_l|g_per_l|l_per_h|g_per_h|m_per_s|kg|mg|kcal|km|frac|log|l|h|w|c|n)$/;

/** What a figure is, without the unit that closes its name. */
export const named = (name: string): string => spoken(`quantity.${name}`) ?? plainly(name.replace(UNIT_WORDS, ""));

/** A source by its short name. */
export const sourceName = (key: string): string => spoken(`source.${key}`) ?? key;

/** A figure with the unit its name ends in. */
export function quantity(name: string, value: number | null | undefined): string {
  if (value === null || value === undefined) return "";
  const show = BY_SUFFIX.find(([suffix]) => suffix.test(name))?.[1] ?? figure;
  return show(value);
}

export function flagSentence(flag: Flag): string {
  const name = flag.quantity ?? "";
  const detail = flag.detail ?? "";
  const values = {
    value: quantity(name, flag.value), limit: quantity(name, flag.limit), quantity: plainly(name),
    detail: spoken(`detail.${detail}`) ?? detail,
  };
  const said = spoken(`flag.${flag.code}`, values) ?? plainly(flag.code);
  return flag.severity === "medical" ? `${said} ${t("flag.physician")}` : said;
}

/** "Sweat rate against the model: × 1.00 → × 1.12": the name of an input, and what it was or became. */
export function reasonSentence(reason: Reason): string {
  const name = reason.quantity ?? "";
  const before = quantity(name, reason.before);
  const after = quantity(name, reason.after);
  const values = before !== "" && after !== "" ? t("why.range", { before, after }) : before || after;
  return [spoken(`reason.${reason.code}`) ?? plainly(reason.code), values].filter((part) => part !== "").join(": ");
}
