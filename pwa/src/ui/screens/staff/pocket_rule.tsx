import { decimal, milligrams } from "@/core/display.ts";
import type { PocketRule } from "@/protocol/records.ts";
import { drinkById, foodById } from "@/ui/screens/staff/look.ts";
import { t } from "@/ui/words.ts";

/** Which blend is as salty as the rider's sweat, in one sentence for the pocket. */
export function PocketRuleText({ rule }: { rule: PocketRule }) {
  return (
    <>
      <p class="sx-rule">{ruleSentence(rule)}</p>
      <p class="sx-quiet">{t("staff.pocket.meaning", { mg: milligrams(rule.target_mg_per_l) })}</p>
    </>
  );
}

export function ruleSentence(rule: PocketRule): string {
  const name = (id: string | null | undefined): string => (id === null || id === undefined ? "" : (drinkById(id)?.name ?? id));
  const base = name(rule.base_drink_id);
  const salty = name(rule.salty_drink_id);
  return [blendSentence(rule, base, salty), spreadSentence(rule), foodSentence(rule)].filter((s) => s !== "").join(" ");
}

function blendSentence(rule: PocketRule, base: string, salty: string): string {
  switch (rule.code) {
    case "every_nth_salty": return t("staff.pocket.every_nth", { n: Math.max(2, Math.round(rule.one_in_n ?? 2)), salty, base });
    case "alternate_water": return t("staff.pocket.alternate", { base });
    case "standard_only": return t("staff.pocket.standard", { base });
    case "all_salty": return t("staff.pocket.all_salty", { salty });
    case "no_blend": return t("staff.pocket.no_blend");
  }
}

function spreadSentence(rule: PocketRule): string {
  const { one_in_n_low: low, one_in_n_high: high } = rule;
  if (low === null || low === undefined || high === null || high === undefined) return "";
  const [from, to] = [Math.round(Math.min(low, high)), Math.round(Math.max(low, high))];
  return from === to ? "" : t("staff.pocket.spread", { low: from, high: to });
}

function foodSentence(rule: PocketRule): string {
  const units = rule.food_units_per_salty_bottle;
  if (rule.food_id === null || rule.food_id === undefined || units === null || units === undefined || units <= 0) return "";
  return t("staff.pocket.food", { n: decimal(units, units % 1 === 0 ? 0 : 1), food: foodById(rule.food_id)?.name ?? rule.food_id });
}
