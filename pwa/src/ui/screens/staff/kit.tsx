import { useState } from "preact/hooks";

import { parseNumber } from "@/core/display.ts";
import type { Kit } from "@/protocol/records.ts";
import { doc, session } from "@/store/state.ts";
import { put } from "@/sync/api.ts";
import { exchange } from "@/sync/exchange.ts";
import { problemSentence } from "@/ui/screens/staff/acts.ts";
import { isSound, numberIn, Numbers, rule, type Rules, shown, TextField, type Typed } from "@/ui/screens/staff/pantry.tsx";
import { t } from "@/ui/words.ts";

const RULES: Rules = { spare: rule("spare_pct", "%", 0, 100), cooled: rule("drinks_cooled_to_c", "°C", 2, 30) };
const EDITORS: ReadonlySet<string> = new Set(["physiologist", "admin", "soigneur", "car"]);

/** "10; 20; 5" as litres: one to six buckets of half a litre to a hundred; null when it is anything else. */
function bucketsOf(text: string): number[] | null {
  const found = text.split(/[;\s]+/).filter((one) => one !== "").map(parseNumber);
  const litres = found.filter((one): one is number => one !== null && one >= 0.5 && one <= 100);
  return found.length === 0 || found.length > 6 || litres.length < found.length ? null : litres;
}

/** What the team mixes with: its buckets, its spares, how cold. */
export function KitForm() {
  const kit: Kit = doc<Kit>("kit:kit") ?? { id: "kit", version: 0 };
  const [buckets, setBuckets] = useState((kit.buckets_l ?? [10]).join("; "));
  const [typed, setTyped] = useState<Typed>({ spare: shown((kit.spare_frac ?? 0.1) * 100), cooled: shown(kit.drinks_cooled_to_c ?? 10) });
  const [isTried, setTried] = useState(false);
  const [said, setSaid] = useState("");
  const litres = bucketsOf(buckets);
  const save = async (): Promise<void> => {
    setTried(true);
    if (litres === null || !isSound(typed, RULES)) return setSaid(t("staff.drinks.not_kept"));
    const wanted = { ...kit, buckets_l: litres, spare_frac: (numberIn(typed, RULES, "spare") ?? 0) / 100, drinks_cooled_to_c: numberIn(typed, RULES, "cooled") ?? 10 };
    try {
      await put<Kit>("/api/kits/kit", wanted);
      await exchange();
      setSaid(t("staff.kit.kept"));
    } catch (problem) {
      setSaid(problemSentence(problem));
    }
  };
  return (
    <form class="sx-bare" onSubmit={(event) => { event.preventDefault(); void save(); }}>
      <div class="sx-shared">
        <TextField id="buckets" label={t("staff.kit.buckets")} text={buckets} onText={setBuckets} fault={isTried && litres === null ? t("staff.kit.buckets_needed") : undefined} />
        <Numbers rules={RULES} typed={typed} isTried={isTried} onTyped={setTyped} />
      </div>
      <p class="sx-hint">{t("staff.kit.about")}</p>
      {EDITORS.has(session.value?.member.role ?? "") && <button type="submit" class="button button-quiet button-act">{t("staff.drinks.save")}</button>}
      <p role="status" class="sx-said">{said}</p>
    </form>
  );
}
