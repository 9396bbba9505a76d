import { signal } from "@preact/signals";
import { useState } from "preact/hooks";

import { asTyped, decimal, kilograms, kilometres, litres, parseNumber, quarters, typedMass, typedVolume } from "@/core/display.ts";
import { type Section, recalledIn, sectionsOf } from "@/core/sections.ts";
import type { DrankBody, FactEvent, Rider, Stage, WeighedBody } from "@/protocol/records.ts";
import { ate, drank, poured, weighed } from "@/store/commands.ts";
import { currentStage, docsOf, session } from "@/store/state.ts";
import { Button } from "@/ui/parts/button.tsx";
import { Evidence } from "@/ui/parts/evidence.tsx";
import { Field } from "@/ui/parts/field.tsx";
import { Hint } from "@/ui/parts/hint.tsx";
import { Nothing } from "@/ui/parts/nothing.tsx";
import { StagePicker } from "@/ui/parts/stage_picker.tsx";
import { Steps } from "@/ui/parts/steps.tsx";
import { TwinCards } from "@/ui/parts/twin_card.tsx";
import { FactLine } from "@/ui/screens/rider/fact_line.tsx";
import { drinks, facts, foods, plan, riderId, sums } from "@/ui/screens/rider/road_state.ts";
import { Symptoms } from "@/ui/screens/rider/symptoms.tsx";
import { AskAlerts } from "@/ui/screens/shared/alerts.tsx";
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
      <p class="landmark">{name} <span>{kilometres(section.fromKm)}</span></p>
      <Steps
        label={t("bus.bottles", { drink: drink?.name ?? "" })} place={`${name}, ${kilometres(section.fromKm)}`} value={recalled.value[key] ?? 0} onValue={(value) => put(key, value)}
        show={quarters} mark={(recalled.value[key] ?? 0) > 0 && <Evidence kind="recalled" />}
      />
      {before > 0 && <p class="field-hint">{t("bus.already", { litres: litres(before) })}</p>}
    </li>
  );
}

/** Keep what was recalled, one fact per stretch of road; "not sure" keeps it as doubtful, and it weighs less. */
async function keepRecall(stage: Stage, rider: string, isDoubtful: boolean): Promise<number> {
  let n = 0;
  for (const section of sectionsOf(stage)) {
    const bottles = recalled.value[keyOf(section)] ?? 0;
    const drink = sectionDrink(section);
    if (bottles === 0 || drink === null) continue;
    await drank(rider, stage.id, {
      volume_l: bottles * drink.bottleL, how: "recall", drink_id: drink.id, from_km: section.fromKm, to_km: section.toKm,
      ...(isDoubtful ? { is_doubtful: true } : {}),
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
  for (const food of foods.value) {
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
  const keepAll = async (isDoubtful: boolean): Promise<void> => {
    try {
      setSaid(t("bus.kept", { n: await keepRecall(stage, rider, isDoubtful) }));
    } catch {
      setSaid(t("road.notNoted"));
    }
  };
  return (
    <section class="group" aria-labelledby="recall">
      <h2 id="recall">{t("bus.howDidItGo")}</h2>
      <ul class="roadway">{sectionsOf(stage).map((section) => <SectionRow key={keyOf(section)} section={section} />)}</ul>
      <p class="landmark">{t("bus.finish")}</p>
      <Steps label={t("bus.pouredOnHead")} value={recalled.value["poured"] ?? 0} onValue={(value) => put("poured", value)} show={quarters} />
      {foods.value.map((food) => (
        <Steps key={food.id} label={food.name} step={1} most={30} value={recalled.value[food.id] ?? 0} onValue={(value) => put(food.id, value)} show={String} />
      ))}
      <div class="acts">
        <Button kind="act" isDisabled={nOpen === 0} onPress={() => void keepAll(false)}>{t("bus.thatsIt")}</Button>
        <Button isDisabled={nOpen === 0} onPress={() => void keepAll(true)}>{t("bus.notSure")}</Button>
      </div>
      <p role="status">{said}</p>
    </section>
  );
}

type Measure = ReturnType<typeof typedMass>;

/** What is wrong with a typed figure, in the unit it was typed in; null when nothing is. */
function faultOf(text: string, measure: Measure, low: number, high: number, isNeeded: boolean): string | null {
  const limits = { low: decimal(measure.toTyped(low), 0), high: decimal(measure.toTyped(high), 0) };
  if (text.trim() === "") return isNeeded ? t("field.between", limits) : null;
  const typed = parseNumber(text);
  if (typed === null) return t("field.notNumber");
  const value = measure.toCanonical(typed);
  return value < low || value > high ? t("field.between", limits) : null;
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
  const [kg, l] = [typedMass(), typedVolume()];
  const massFault = faultOf(mass, kg, 30, 150, true);
  const urineFault = faultOf(urine, l, 0, 5, false);
  const weighNow = async (): Promise<void> => {
    setTried(true);
    if (massFault !== null || (moment === "after" && urineFault !== null)) return;
    try {
      await weighed(rider, stage.id, {
        moment, mass_kg: kg.toCanonical(parseNumber(mass) ?? 0), is_kit_dry: isDry,
        ...(moment === "after" ? { urine_l: l.toCanonical(parseNumber(urine) ?? 0) } : {}),
        ...asTyped({ mass_kg: [kg, parseNumber(mass)], urine_l: [l, moment === "after" ? parseNumber(urine) : null] }),
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
      {before !== null && after === null && <p>{t("bus.weighNow", { mass: kilograms(before) })}</p>}
      <div class="acts" role="group" aria-label={t("bus.weigh")}>
        <Button isPressed={moment === "before"} onPress={() => setMoment("before")}>{t("bus.before")}</Button>
        <Button isPressed={moment === "after"} onPress={() => setMoment("after")}>{t("bus.after")}</Button>
      </div>
      <div class="field-row">
        <Field label={t("bus.mass")} unit={kg.unit} text={mass} onText={setMass} fault={isTried ? massFault : null} />
        {moment === "after" && <Field label={t("bus.voided")} unit={l.unit} text={urine} onText={setUrine} fault={isTried ? urineFault : null} />}
      </div>
      <label class="tick-line"><input type="checkbox" checked={isDry} onChange={(event) => setDry(event.currentTarget.checked)} />{t("bus.kitDry")}</label>
      <div class="acts"><Button kind="act" onPress={() => void weighNow()}>{t("bus.keepWeight")}</Button></div>
      <p role="status">{said}</p>
      {before !== null && after !== null && (
        <p>{t("bus.change", { before: kilograms(before), after: kilograms(after), kg: kilograms(Math.abs(before - after)), way: after <= before ? "lighter" : "heavier" })} <Evidence kind="weighed" /></p>
      )}
    </section>
  );
}

const READS_BODIES: ReadonlySet<string> = new Set(["physiologist", "doctor", "admin"]);

/** At the bus: what the road did not let anyone note, in stretches of road, and the scale. Staff may note for a rider. */
export function Bus() {
  const stage = currentStage.value;
  const rider = riderId.value;
  const member = session.value?.member;
  const isOwn = member?.rider_id === rider;
  const other: Rider | undefined = isOwn ? undefined : docsOf("rider").find((r) => r.id === rider);
  if (stage === null || rider === null || (!isOwn && other === undefined)) return <Nothing title={t("bus.title")} />;
  return (
    <main class={isOwn ? "page" : "page page-proxy"}>
      <header class="page-head">
        <h1>{other === undefined ? t("bus.title") : `${other.race_number} ${other.name}`}</h1>
        {other !== undefined && <p>{t("bus.notingFor", { name: other.name })}</p>}
      </header>
      <StagePicker />
      <Hint name="bus">{t("bus.hint")}</Hint>
      <p>{t("bus.soFar", { litres: litres(sums.value.drankL) })} <Evidence kind={sums.value.drankEvidence} /></p>
      <TwinCards riderId={rider} />
      {stage.kind !== "rest" && <Recall stage={stage} rider={rider} />}
      {(isOwn || READS_BODIES.has(member?.role ?? "")) && <Weigh key={stage.id + rider} stage={stage} rider={rider} />}
      {isOwn && <AskAlerts />}
      {(isOwn || member?.role === "doctor") && <Symptoms stageId={stage.id} riderId={rider} />}
      <section class="group" aria-labelledby="noted">
        <h2 id="noted">{t("bus.noted")}</h2>
        {facts.value.length === 0 ? <p>{t("bus.nothingNoted")}</p> : (
          <ul class="rows">{[...facts.value].reverse().map((event) => <FactLine key={event.id} event={event} />)}</ul>
        )}
      </section>
    </main>
  );
}
