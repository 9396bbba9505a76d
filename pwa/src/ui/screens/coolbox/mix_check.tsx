import { useState } from "preact/hooks";

import { byName, decimal, parseNumber, stageTime } from "@/core/display.ts";
import { conductingBatch, type Made, mixVerdict, refractingBatch, weighedBatch } from "@/core/mix_check.ts";
import type { Drink, FactEvent, MixCheckBody, Supply } from "@/protocol/records.ts";
import { mixCheck } from "@/store/commands.ts";
import { currentStage, currentStageId, docsOf, folded, session } from "@/store/state.ts";
import { Button } from "@/ui/parts/button.tsx";
import { Field } from "@/ui/parts/field.tsx";
import { t } from "@/ui/words.ts";

const HOWS = ["weighed", "conductivity", "refractometer"] as const;
type How = (typeof HOWS)[number];
type Texts = Readonly<Record<string, string>>;
interface Asked { readonly name: string; readonly label: string; readonly unit: string; readonly low: number; readonly high: number; readonly hint?: string }
interface Part { readonly supply: Supply; readonly gPerL: number }

const held = (supply: Supply): { sodium: number; carbohydrate: number } => {
  if (supply.kind === "table_salt") return { sodium: 393.366, carbohydrate: 0 };
  if (supply.kind === "citrate") return { sodium: 234.509, carbohydrate: 0 };
  return { sodium: supply.sodium_mg_per_g ?? 0, carbohydrate: supply.carbohydrate_g_per_g ?? 0 };
};

function partsOf(drink: Drink): Part[] {
  const supplies = docsOf("supply");
  return (drink.recipe ?? []).flatMap((portion) => {
    const supply = supplies.find((one) => one.id === portion.supply_id);
    return supply === undefined ? [] : [{ supply, gPerL: portion.g_per_l }];
  });
}

function askedOf(how: How, parts: readonly Part[]): Asked[] {
  if (how === "weighed") {
    return [
      ...parts.map(({ supply, gPerL }) => ({
        name: supply.id, label: supply.name, unit: "g", low: 0, high: 50_000, hint: t("coolbox.check.recipe", { g: decimal(gPerL, gPerL < 10 ? 2 : 1) }),
      })),
      { name: "water", label: t("coolbox.check.water"), unit: "L", low: 0.1, high: 20 },
    ];
  }
  if (how === "refractometer") return [{ name: "degrees", label: t("coolbox.check.degrees"), unit: "°Bx", low: 0, high: 40 }];
  return [
    { name: "conductivity", label: t("coolbox.check.conductivity"), unit: "mS/cm", low: 0, high: 60, hint: t("coolbox.check.raw") },
    { name: "temperature", label: t("coolbox.check.temperature"), unit: "°C", low: 0, high: 45 },
  ];
}

function faultOf(asked: Asked, text: string): string | null {
  const value = parseNumber(text);
  if (value === null) return t("field.notNumber");
  return value < asked.low || value > asked.high ? t("field.between", { low: asked.low, high: asked.high }) : null;
}

function madeOf(how: How, drink: Drink, parts: readonly Part[], texts: Texts): Made {
  const of = (name: string): number => parseNumber(texts[name] ?? "") ?? 0;
  if (how === "weighed") {
    const weighed = parts.map(({ supply }) => ({ massG: of(supply.id), sodiumMgPerG: held(supply).sodium, carbohydrateGPerG: held(supply).carbohydrate }));
    return weighedBatch(weighed, of("water"));
  }
  if (how === "conductivity") {
    return conductingBatch(of("conductivity"), of("temperature"), drink.sodium_mg_per_l, drink.conductivity_ms_per_cm ?? null);
  }
  const powders = parts.filter(({ supply }) => (supply.kind ?? "powder") === "powder");
  const sum = (some: readonly Part[]): number => some.reduce((mg, { supply, gPerL }) => mg + gPerL * held(supply).sodium, 0);
  const powderMgPerL = sum(powders);
  return refractingBatch(of("degrees"), {
    powderGPerL: powders.reduce((g, { gPerL }) => g + gPerL, 0), powderMgPerL, unseenMgPerL: sum(parts) - powderMgPerL,
  });
}

function bodyOf(how: How, drink: Drink, parts: readonly Part[], texts: Texts, made: Made): MixCheckBody {
  const of = (name: string): number => parseNumber(texts[name] ?? "") ?? 0;
  const read: Partial<MixCheckBody> = how === "weighed"
    ? { supplies: parts.map(({ supply }) => ({ supply_id: supply.id, mass_g: of(supply.id) })), water_l: of("water") }
    : how === "conductivity" ? { conductivity_ms_per_cm: of("conductivity"), temperature_c: of("temperature") } : { sucrose_g_per_100_g: of("degrees") };
  return { drink_id: drink.id, sodium_mg_per_l: made.mgPerL, sodium_sd_mg_per_l: made.sdMgPerL, how, ...read };
}

function Verdict({ made, drink }: { made: Made; drink: Drink }) {
  const word = mixVerdict(made, drink.sodium_mg_per_l);
  const values = { made: decimal(Math.round(made.mgPerL / 10) * 10, 0), spread: decimal(Math.max(10, Math.round((1.64 * made.sdMgPerL) / 10) * 10), 0), label: decimal(drink.sodium_mg_per_l, 0) };
  return (
    <div class={word === "right" ? "cb-verdict" : "cb-verdict cb-verdict-off"} role="status">
      <p class="cb-verdict-figure">{values.made} <small>± {values.spread} mg/L</small></p>
      <p>{t(`coolbox.verdict.${word}`, values)}</p>
    </div>
  );
}

function Earlier() {
  const stage = currentStage.value;
  const checks = [...folded.value.live.values()]
    .filter((event) => event.kind === "mix_check" && event.stage_id === currentStageId.value)
    .sort((a, b) => b.at_ms - a.at_ms) as FactEvent<MixCheckBody>[];
  if (checks.length === 0 || stage === null) return null;
  return (
    <section class="group" aria-labelledby="earlier">
      <h2 id="earlier">{t("coolbox.check.earlier")}</h2>
      <ul class="rows">
        {checks.map((check) => (
          <li key={check.id}>
            {stageTime(check.at_ms, stage.time_zone)} · <b>{docsOf("drink").find((drink) => drink.id === check.body.drink_id)?.name ?? check.body.drink_id}</b>{" "}
            {decimal(check.body.sodium_mg_per_l, 0)} mg/L · {t(`coolbox.how.${check.body.how ?? "stated"}`)}
          </li>
        ))}
      </ul>
    </section>
  );
}

/** Mix check: what went in, or what a meter reads, against the label; from then on the batch counts as it is. */
export function MixCheck() {
  const drinks = docsOf("drink").filter((drink) => (drink.recipe ?? []).length > 0).sort((a, b) => byName(a.name, b.name));
  const [drinkId, setDrinkId] = useState<string | null>(null);
  const [how, setHow] = useState<How>("weighed");
  const [texts, setTexts] = useState<Texts>({});
  const [isTried, setTried] = useState(false);
  const [said, setSaid] = useState("");
  const drink = drinks.find((one) => one.id === drinkId) ?? drinks[0];
  if (drink === undefined) return <p class="cb-none">{t("coolbox.check.no_recipe")}</p>;
  const parts = partsOf(drink);
  const asked = askedOf(how, parts);
  const isWhole = asked.every((one) => faultOf(one, texts[one.name] ?? "") === null);
  const hasPowder = parts.some(({ supply }) => (supply.kind ?? "powder") === "powder");
  const isBlind = how === "refractometer" && !hasPowder;
  const made = isWhole && !isBlind ? madeOf(how, drink, parts, texts) : null;
  const start = (): void => {
    setTexts({});
    setTried(false);
  };
  const keep = async (): Promise<void> => {
    setTried(true);
    const team = session.value?.team.id;
    if (made === null || team === undefined) return;
    try {
      await mixCheck(team, currentStageId.value, bodyOf(how, drink, parts, texts, made));
      setSaid(t("coolbox.check.kept", { drink: drink.name }));
      start();
    } catch {
      setSaid(t("road.notNoted"));
    }
  };
  return (
    <div class="cb-screen page-form">
      <fieldset class="group">
        <legend>{t("coolbox.check.drink")}</legend>
        <div class="acts">{drinks.map((one) => <Button key={one.id} isPressed={one.id === drink.id} onPress={() => { setDrinkId(one.id); start(); }}>{one.short_name}</Button>)}</div>
        <p>{drink.name} · {t("coolbox.strength", { sodium: decimal(drink.sodium_mg_per_l, 0), carbohydrate: decimal(drink.carbohydrate_g_per_l ?? 0, 0) })}</p>
      </fieldset>
      <fieldset class="group">
        <legend>{t("coolbox.check.how")}</legend>
        <div class="acts">{HOWS.map((one) => <Button key={one} isPressed={one === how} onPress={() => { setHow(one); start(); }}>{t(`coolbox.how.${one}`)}</Button>)}</div>
        <p class="field-hint">{isBlind ? t("coolbox.check.blind") : how === "conductivity" && !drink.conductivity_ms_per_cm ? t("coolbox.check.no_reference") : t(`coolbox.check.about.${how}`)}</p>
      </fieldset>
      <div class="field-row">
        {asked.map((one) => (
          <Field
            key={one.name} label={one.label} unit={one.unit} text={texts[one.name] ?? ""} {...(one.hint === undefined ? {} : { hint: one.hint })}
            fault={isTried || (texts[one.name] ?? "") !== "" ? faultOf(one, texts[one.name] ?? "") : null}
            onText={(text) => { setTexts({ ...texts, [one.name]: text }); setSaid(""); }}
          />
        ))}
      </div>
      {made !== null && <Verdict made={made} drink={drink} />}
      <div class="acts"><Button kind="act" onPress={() => void keep()}>{t("coolbox.check.keep")}</Button></div>
      <p role="status">{said}</p>
      <Earlier />
    </div>
  );
}
