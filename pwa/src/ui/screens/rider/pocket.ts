/** The pocket rule in a sentence short enough to read while moving. */

import type { Drink, PocketRule } from "@/protocol/records.ts";
import { t } from "@/ui/words.ts";

export function pocketSentence(rule: PocketRule | null, drinks: readonly Drink[]): string | null {
  if (rule === null) return null;
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
