import { useState } from "preact/hooks";

import type { PlanGoals } from "@/protocol/records.ts";
import { doc } from "@/store/state.ts";
import { put } from "@/sync/api.ts";
import { exchange } from "@/sync/exchange.ts";
import { problemSentence } from "@/ui/screens/staff/acts.ts";
import { canEdit } from "@/ui/screens/staff/look.ts";
import { isSound, numberIn, Numbers, rule, type Rules, shown, type Typed } from "@/ui/screens/staff/pantry.tsx";
import { t } from "@/ui/words.ts";

const NAMES = ["deficit_factor", "water_factor", "sodium_factor", "carbohydrate_factor", "hand_up_factor", "variety_factor", "even_factor", "risk_factor"] as const;
const RULES: Rules = Object.fromEntries(NAMES.map((name) => [name, rule(name, "×", 0.2, 5)]));

/** What a plan gives up first when not everything fits; the limits stay what they are. */
export function GoalsForm() {
  const goals: PlanGoals = doc<PlanGoals>("plan_goals:goals") ?? { id: "goals", version: 0 };
  const [typed, setTyped] = useState<Typed>(Object.fromEntries(NAMES.map((name) => [name, shown(goals[name] ?? 1)])));
  const [isTried, setTried] = useState(false);
  const [said, setSaid] = useState("");
  const keep = async (wanted: Typed): Promise<void> => {
    setSaid("");
    setTried(true);
    setTyped(wanted);
    if (!isSound(wanted, RULES)) return setSaid(t("staff.drinks.not_kept"));
    try {
      await put<PlanGoals>("/api/plan-goals/goals", { ...goals, ...Object.fromEntries(NAMES.map((name) => [name, numberIn(wanted, RULES, name) ?? 1])) });
      await exchange();
      setSaid(t("staff.goals.kept"));
    } catch (problem) {
      setSaid(problemSentence(problem));
    }
  };
  return (
    <form class="sx-bare" aria-label={t("staff.drinks.goals")} onSubmit={(event) => { event.preventDefault(); void keep(typed); }}>
      <p>{t("staff.goals.about")}</p>
      <fieldset class="sx-shared" disabled={!canEdit.value}><Numbers rules={RULES} typed={typed} isTried={isTried} onTyped={setTyped} /></fieldset>
      {canEdit.value && (
        <div class="sx-line">
          <button type="submit" class="button button-quiet button-act">{t("staff.drinks.save")}</button>
          <button type="button" class="button button-quiet" onClick={() => void keep(Object.fromEntries(NAMES.map((name) => [name, "1"])))}>{t("staff.goals.default")}</button>
        </div>
      )}
      <p role="status" class="sx-said">{said}</p>
    </form>
  );
}
