import { signal } from "@preact/signals";
import { useState } from "preact/hooks";

import { decimal, kilograms, litres, parseNumber, quarters } from "@/core/display.ts";
import { type Section, recalledIn, sectionsOf } from "@/core/sections.ts";
import type { DrankBody, FactEvent, Stage, WeighedBody } from "@/protocol/records.ts";
import { ate, drank, poured, weighed } from "@/store/commands.ts";
import { currentStage, docsOf } from "@/store/state.ts";
import { Button } from "@/ui/parts/button.tsx";
import { Evidence } from "@/ui/parts/evidence.tsx";
import { Field } from "@/ui/parts/field.tsx";
import { StagePicker } from "@/ui/parts/stage_picker.tsx";
import { Steps } from "@/ui/parts/steps.tsx";
import { FactLine } from "@/ui/screens/rider/fact_line.tsx";
import { drinks, facts, plan, riderId, sums } from "@/ui/screens/rider/road_state.ts";
import { t } from "@/ui/words.ts";

/** What is being recalled and not yet kept: bottles per section, and the rest of the road by name. */
const recalled = signal<Readonly<Record<string, number>>>({});
const keyOf = (section: Section): string => `${section.fromKm}-${section.toKm}`;
const put = (key: string, value: number): void => {
  recalled.value = { ...recalled.value, [key]: value };
};

function sectionDrink(section: Section): { id: string; bottleL: number; name: string } | null {
  const steps = plan.value?.steps ?? [];
  const planned = steps.filter((step) => step.km >= section.fromKm - 0.01 && step.km < section.toKm).flatMap((step) => Object.keys(step.bottles));
  const drink = drinks.value.find((d) => d.id === planned[0]) ?? drinks.value[0];
  return drink === undefined ? null : { id: drink.id, bottleL: drink.bottle_l ?? 0.5, name: drink.short_name };
}

function SectionRow({ section }: { section: Section }) {
  const key = keyOf(section);
  const drink = sectionDrink(section);
  const before = recalledIn(facts.value, section).reduce((sum, fact) => sum + (fact.body as DrankBody).volume_l, 0);
  const name = section.from === null ? t("bus.start") : section.from.name;
  return (
    <li>
      <p class="landmark">{name} <span>{t("road.km", { km: decimal(section.fromKm, 0) })}</span></p>
      <Steps
        label={t("bus.bottles", { drink: drink?.name ?? "" })} value={recalled.value[key] ?? 0} onValue={(value) => put(key, value)}
        show={quarters} mark={<Evidence kind="recalled" />}
      />
      {before > 0 && <p class="field-hint">{t("bus.already", { litres: litres(before) })}</p>}
    </li>
  );
}

async function keepRecall(stage: Stage, rider: string): Promise<number> {
  let n = 0;
  for (const section of sectionsOf(stage)) {
    const bottles = recalled.value[keyOf(section)] ?? 0;
    const drink = sectionDrink(section);
    if (bottles === 0 || drink === null) continue;
    await drank(rider, stage.id, {
      volume_l: bottles * drink.bottleL, how: "recall", drink_id: drink.id, from_km: section.fromKm, to_km: section.toKm,
    });
    put(keyOf(section), 0);
    n += 1;
  }
  const pouredBottles = recalled.value["poured"] ?? 0;
  if (pouredBottles > 0) {
    await poured(rider, stage.id, { volume_l: pouredBottles * (drinks.value[0]?.bottle_l ?? 0.5) });
    put("poured", 0);
    n += 1;
  }
  for (const food of docsOf("food")) {
    const units = recalled.value[food.id] ?? 0;
    if (units === 0) continue;
    await ate(rider, stage.id, { food_id: food.id, n_units: units });
    put(food.id, 0);
    n += 1;
  }
  return n;
}

function Recall({ stage, rider }: { stage: Stage; rider: string }) {
  const [said, setSaid] = useState("");
  const nOpen = Object.values(recalled.value).filter((value) => value > 0).length;
  const keepAll = async (): Promise<void> => {
    try {
      setSaid(t("bus.kept", { n: await keepRecall(stage, rider) }));
    } catch {
      setSaid(t("road.notNoted"));
    }
  };
  return (
    <section class="group" aria-labelledby="recall">
      <h2 id="recall">{t("bus.howDidItGo")}</h2>
      <ul>{sectionsOf(stage).map((section) => <SectionRow key={keyOf(section)} section={section} />)}</ul>
      <p class="landmark">{t("bus.finish")}</p>
      <Steps label={t("bus.pouredOnHead")} value={recalled.value["poured"] ?? 0} onValue={(value) => put("poured", value)} show={quarters} />
      {docsOf("food").map((food) => (
        <Steps key={food.id} label={food.name} step={1} most={30} value={recalled.value[food.id] ?? 0} onValue={(value) => put(food.id, value)} show={String} />
      ))}
      <div class="acts"><Button kind="act" isDisabled={nOpen === 0} onPress={() => void keepAll()}>{t("bus.thatsIt")}</Button></div>
      <p role="status">{said}</p>
    </section>
  );
}

function massFault(text: string, low: number, high: number, isNeeded: boolean): string | null {
  if (text.trim() === "") return isNeeded ? t("field.between", { low, high }) : null;
  const value = parseNumber(text);
  if (value === null) return t("field.notNumber");
  return value < low || value > high ? t("field.between", { low, high }) : null;
}

const massOf = (list: readonly FactEvent[], moment: "before" | "after"): number | null => {
  const fact = list.filter((event) => event.kind === "weighed" && (event.body as WeighedBody).moment === moment).at(-1);
  return fact === undefined ? null : (fact.body as WeighedBody).mass_kg;
};

function Weigh({ stage, rider }: { stage: Stage; rider: string }) {
  const before = massOf(facts.value, "before");
  const after = massOf(facts.value, "after");
  const [moment, setMoment] = useState<"before" | "after">(before === null ? "before" : "after");
  const [mass, setMass] = useState("");
  const [urine, setUrine] = useState("");
  const [isDry, setDry] = useState(true);
  const [isTried, setTried] = useState(false);
  const [said, setSaid] = useState("");
  const massSaid = isTried ? massFault(mass, 30, 150, true) : null;
  const urineSaid = isTried ? massFault(urine, 0, 5, false) : null;
  const weighNow = async (): Promise<void> => {
    setTried(true);
    if (massFault(mass, 30, 150, true) !== null || massFault(urine, 0, 5, false) !== null) return;
    try {
      await weighed(rider, stage.id, {
        moment, mass_kg: parseNumber(mass) ?? 0, is_kit_dry: isDry, ...(moment === "after" ? { urine_l: parseNumber(urine) ?? 0 } : {}),
      });
      setMass("");
      setTried(false);
      setSaid(t("bus.weighedKept"));
    } catch {
      setSaid(t("road.notNoted"));
    }
  };
  return (
    <section class="group" aria-labelledby="weigh">
      <h2 id="weigh">{t("bus.weigh")}</h2>
      <div class="acts" role="group" aria-label={t("bus.weigh")}>
        <Button isPressed={moment === "before"} onPress={() => setMoment("before")}>{t("bus.before")}</Button>
        <Button isPressed={moment === "after"} onPress={() => setMoment("after")}>{t("bus.after")}</Button>
      </div>
      <div class="field-row">
        <Field label={t("bus.mass")} unit="kg" text={mass} onText={setMass} fault={massSaid} />
        {moment === "after" && <Field label={t("bus.voided")} unit="L" text={urine} onText={setUrine} fault={urineSaid} />}
      </div>
      <label class="tick-line"><input type="checkbox" checked={isDry} onChange={(event) => setDry(event.currentTarget.checked)} />{t("bus.kitDry")}</label>
      <div class="acts"><Button kind="act" onPress={() => void weighNow()}>{t("bus.keepWeight")}</Button></div>
      <p role="status">{said}</p>
      {before !== null && after !== null && (
        <p>{t("bus.change", { before: kilograms(before), after: kilograms(after), kg: decimal(Math.abs(before - after), 1), way: after <= before ? "lighter" : "heavier" })} <Evidence kind="weighed" /></p>
      )}
    </section>
  );
}

/** At the bus: what the road did not let anyone note, in sections of road, and the scale. */
export function Bus() {
  const stage = currentStage.value;
  const rider = riderId.value;
  if (stage === null || rider === null) return <main class="page"><h1>{t("bus.title")}</h1><p>{t("road.nothingYet")}</p></main>;
  return (
    <main class="page">
      <header class="page-head"><h1>{t("bus.title")}</h1></header>
      <StagePicker />
      <p>{t("bus.soFar", { litres: litres(sums.value.drankL) })} <Evidence kind={sums.value.drankEvidence} /></p>
      {stage.kind !== "rest" && <Recall stage={stage} rider={rider} />}
      <Weigh key={stage.id} stage={stage} rider={rider} />
      <section class="group" aria-labelledby="noted">
        <h2 id="noted">{t("bus.noted")}</h2>
        {facts.value.length === 0 ? <p>{t("lane.nothing_noted")}</p> : (
          <ul class="rows">{[...facts.value].reverse().map((event) => <FactLine key={event.id} event={event} />)}</ul>
        )}
      </section>
    </main>
  );
}
