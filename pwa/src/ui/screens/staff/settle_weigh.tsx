import { useState } from "preact/hooks";

import { decimal } from "@/core/display.ts";
import { checked, type FieldRule } from "@/core/sweat_day.ts";
import type { Stage } from "@/protocol/records.ts";
import { weigh } from "@/ui/screens/staff/acts.ts";
import { NumberField } from "@/ui/screens/staff/parts.tsx";
import type { RiderRow } from "@/ui/screens/staff/settle_state.ts";
import { t } from "@/ui/words.ts";

const MASS: FieldRule = { name: "mass_kg", unit: "kg", low: 30, high: 150 };
const FOOD: FieldRule = { name: "food_kg", unit: "kg", low: 0, high: 10, isOptional: true };
const VOID: FieldRule = { name: "urine_l", unit: "L", low: 0, high: 5, isOptional: true };

/** A weighing from the table: it adds a fact, the one before it stays in the book. */
export function WeighAgain({ r, stage }: { r: RiderRow; stage: Stage }) {
  const [moment, setMoment] = useState<"before" | "after">(r.row.massBeforeKg === null ? "before" : "after");
  const [mass, setMass] = useState("");
  const [food, setFood] = useState(r.row.massAfterKg === null ? "" : decimal(r.row.foodKg, 1));
  const [urine, setUrine] = useState(r.row.massAfterKg === null ? "" : decimal(r.row.voidL, 1));
  const [isTried, setTried] = useState(false);
  const id = `weigh-${r.rider.id}`;
  const send = async (): Promise<void> => {
    const found = [checked(mass, MASS), checked(food, FOOD), checked(urine, VOID)];
    const massKg = found[0]?.value ?? null;
    setTried(true);
    if (massKg === null || found.some((f) => f.issue !== null)) return;
    await weigh(r.rider.id, stage.id, {
      moment, massKg, foodKg: moment === "after" ? (found[1]?.value ?? 0) : 0,
      urineL: moment === "after" ? (found[2]?.value ?? 0) : 0, energyKcal: moment === "after" ? r.row.energyKcal : null,
    });
    setMass("");
    setTried(false);
    if (moment === "before" && r.row.massAfterKg === null) setMoment("after");
  };
  return (
    <form class="sx-weigh" onSubmit={(event) => { event.preventDefault(); void send(); }}>
      <fieldset class="sx-chips">
        <legend>{t("staff.settle.weigh")}</legend>
        {(["before", "after"] as const).map((choice) => (
          <label key={choice} class={moment === choice ? "sx-chip sx-chip-on" : "sx-chip"}>
            <input type="radio" name={id} checked={moment === choice} onChange={() => setMoment(choice)} />
            {t(`staff.settle.weigh_${choice}`)}
          </label>
        ))}
      </fieldset>
      <NumberField id={`${id}-mass`} label={t("staff.settle.mass")} rule={MASS} text={mass} onText={setMass} isShown={isTried} />
      {moment === "after" && (
        <>
          <NumberField id={`${id}-food`} label={t("staff.settle.food_eaten")} rule={FOOD} text={food} onText={setFood} isShown={isTried} />
          <NumberField id={`${id}-void`} label={t("staff.settle.voided")} rule={VOID} text={urine} onText={setUrine} isShown={isTried} />
        </>
      )}
      <button type="submit" class="button button-quiet">{t("staff.settle.weigh_keep")}</button>
    </form>
  );
}
