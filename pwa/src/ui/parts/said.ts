/** Sentences for what the server says in codes. */

import { decimal } from "@/core/display.ts";
import type { Flag, Reason } from "@/protocol/records.ts";
import { spoken, t } from "@/ui/words.ts";

const plainly = (code: string): string => code.replaceAll("_", " ");

/** A figure of unknown kind with as many digits as its size supports. */
export function figure(value: number | null | undefined): string {
  if (value === null || value === undefined) return "";
  const size = Math.abs(value);
  return decimal(value, size >= 20 ? 0 : size >= 1 ? 1 : 2);
}

/** Quantities are named with their unit last; fractions are said in percent. */
export function quantity(name: string, value: number | null | undefined): string {
  if (value === null || value === undefined) return "";
  if (name.endsWith("_frac")) return `${decimal(value * 100, 1)} %`;
  const unit = spoken(`unit.${/_(l_per_h|mmol_per_l|mg_per_l|g_per_h|mg_per_h|l|mg|g|kg|c|h|km|w|min)$/.exec(name)?.[1] ?? ""}`);
  return unit === null ? figure(value) : `${figure(value)} ${unit}`;
}

export function flagSentence(flag: Flag): string {
  const name = flag.quantity ?? "";
  const values = {
    value: quantity(name, flag.value), limit: quantity(name, flag.limit), quantity: plainly(name), detail: flag.detail ?? "",
  };
  const said = spoken(`flag.${flag.code}`, values) ?? plainly(flag.code);
  return flag.severity === "medical" ? `${said} ${t("flag.physician")}` : said;
}

export function reasonSentence(reason: Reason): string {
  const name = reason.quantity ?? "";
  const before = quantity(name, reason.before);
  const after = quantity(name, reason.after);
  const said = spoken(`reason.${reason.code}`, { before, after, quantity: plainly(name) });
  if (said !== null) return said;
  const values = before !== "" && after !== "" ? t("why.range", { before, after }) : before || after;
  return [plainly(reason.code), values].filter((part) => part !== "").join(": ");
}
