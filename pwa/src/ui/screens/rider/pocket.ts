/** The pocket rule in a sentence short enough to read while moving. */

import type { Drink, PocketRule } from "@/protocol/records.ts";
import { t } from "@/ui/words.ts";

export function pocketSentence(rule: PocketRule | null, drinks: readonly Drink[]): string | null {
  if (rule === null) return null;
  return [blendSentence(rule, drinks), rangeSentence(rule), waterSentence(rule, drinks)].filter((s) => s !== "").join(" ");
}

/** Sodium above which a bottle is drunk only with water beside it. */
const STRONG_MG_PER_L = 1500;

function waterSentence(rule: PocketRule, drinks: readonly Drink[]): string {
  const salty = drinks.find((drink) => drink.id === rule.salty_drink_id);
  const isUsed = rule.code === "every_nth_salty" || rule.code === "all_salty";
  return isUsed && salty !== undefined && salty.sodium_mg_per_l > STRONG_MG_PER_L ? t("pocket.with_water", { salty: salty.short_name }) : "";
}

function rangeSentence(rule: PocketRule): string {
  const { one_in_n_low: low, one_in_n_high: high } = rule;
  if (rule.code !== "every_nth_salty" || low === null || low === undefined || high === null || high === undefined) return "";
  const [from, to] = [Math.round(Math.min(low, high)), Math.round(Math.max(low, high))];
  return from === to ? "" : t("pocket.range", { low: from, high: to });
}

function blendSentence(rule: PocketRule, drinks: readonly Drink[]): string {
  const name = (id: string | null | undefined): string => drinks.find((drink) => drink.id === id)?.short_name ?? "";
  const salty = name(rule.salty_drink_id);
  const base = name(rule.base_drink_id);
  switch (rule.code) {
    case "every_nth_salty": return t("pocket.every_nth_salty", { n: Math.max(1, Math.round(rule.one_in_n ?? 1)), salty, base });
    case "alternate_water": return t("pocket.alternate_water", { base });
    case "standard_only": return t("pocket.standard_only", { base });
    case "all_salty": return t("pocket.all_salty", { salty });
    case "no_blend": return t("pocket.no_blend");
  }
}
