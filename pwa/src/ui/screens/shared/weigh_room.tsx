import { useState } from "preact/hooks";

import { parseNumber } from "@/core/display.ts";
import type { Rider } from "@/protocol/records.ts";
import { cameBack, morningCheck, weighed } from "@/store/commands.ts";
import { currentStageId, docsOf } from "@/store/state.ts";
import { Button } from "@/ui/parts/button.tsx";
import { Field } from "@/ui/parts/field.tsx";
import { StagePicker } from "@/ui/parts/stage_picker.tsx";
import { t } from "@/ui/words.ts";

type Moment = "before" | "after" | "morning" | "returns";
const MOMENTS: readonly Moment[] = ["before", "after", "morning", "returns"];

interface Rule {
  readonly low: number;
  readonly high: number;
  readonly isNeeded?: boolean;
}
const RULES = {
  mass: { low: 30, high: 150, isNeeded: true },
  food: { low: 0, high: 10 },
  urine: { low: 0, high: 5 },
  colour: { low: 1, high: 8 },
  thirst: { low: 1, high: 9 },
  left: { low: 0, high: 20, isNeeded: true },
} as const satisfies Record<string, Rule>;
type Name = keyof typeof RULES;

const FIELDS: Readonly<Record<Moment, readonly Name[]>> = {
  before: ["mass"], after: ["mass", "food", "urine"], morning: ["mass", "colour", "thirst"], returns: ["left"],
};
const UNITS: Partial<Record<Name, string>> = { mass: "kg", food: "kg", urine: "L", left: "L" };

function faultOf(name: Name, text: string): string | null {
  const rule: Rule = RULES[name];
  if (text.trim() === "") return rule.isNeeded ? t("field.between", rule) : null;
  const value = parseNumber(text);
  if (value === null) return t("field.notNumber");
  return value < rule.low || value > rule.high ? t("field.between", rule) : null;
}

async function keepEntry(rider: string, moment: Moment, texts: Partial<Record<Name, string>>): Promise<void> {
  const value = (name: Name): number | null => parseNumber(texts[name] ?? "");
  const stage = currentStageId.value;
  const massKg = value("mass") ?? 0;
  if (moment === "returns") {
    await cameBack(rider, stage, { left_l: value("left") ?? 0, how: "counted" });
  } else if (moment === "morning") {
    const [colour, thirst] = [value("colour"), value("thirst")];
    await morningCheck(rider, stage, {
      mass_kg: massKg, ...(colour === null ? {} : { urine_colour: Math.round(colour) }), ...(thirst === null ? {} : { thirst: Math.round(thirst) }),
    });
  } else {
    const after = moment === "after" ? { food_kg: value("food") ?? 0, urine_l: value("urine") ?? 0 } : {};
    await weighed(rider, stage, { moment, mass_kg: massKg, ...after });
  }
}

function Entry({ rider, onDone }: { rider: Rider; onDone: (said: string) => void }) {
  const [moment, setMoment] = useState<Moment>("before");
  const [texts, setTexts] = useState<Partial<Record<Name, string>>>({});
  const [isTried, setTried] = useState(false);
  const [fault, setFault] = useState("");
  const names = FIELDS[moment];
  const keepIt = async (): Promise<void> => {
    setTried(true);
    if (names.some((name) => faultOf(name, texts[name] ?? "") !== null)) return;
    try {
      await keepEntry(rider.id, moment, texts);
      onDone(t("weighRoom.kept", { rider: rider.race_number }));
    } catch {
      setFault(t("road.notNoted"));
    }
  };
  return (
    <section class="group">
      <p class="big">{rider.race_number}<small>{rider.name}</small></p>
      <div class="acts">
        {MOMENTS.map((name) => <Button key={name} isPressed={moment === name} onPress={() => setMoment(name)}>{t(`weighRoom.${name}`)}</Button>)}
      </div>
      <div class="field-row">
        {names.map((name) => (
          <Field
            key={name} label={t(`weighRoom.field.${name}`)} text={texts[name] ?? ""} onText={(text) => setTexts({ ...texts, [name]: text })}
            fault={isTried ? faultOf(name, texts[name] ?? "") : null} {...(UNITS[name] === undefined ? {} : { unit: UNITS[name] })}
          />
        ))}
      </div>
      {fault !== "" && <p class="fault" role="alert">{fault}</p>}
      <div class="acts"><Button kind="act" onPress={() => void keepIt()}>{t("weighRoom.keep")}</Button><Button onPress={() => onDone("")}>{t("weighRoom.back")}</Button></div>
    </section>
  );
}

/** One rider at a time, large; nothing entered is shown again afterwards. */
export function WeighRoom() {
  const [riderId, setRiderId] = useState<string | null>(null);
  const [said, setSaid] = useState("");
  const riders = docsOf("rider").sort((a, b) => a.race_number - b.race_number);
  const rider = riders.find((r) => r.id === riderId);
  const done = (text: string): void => {
    setSaid(text);
    setRiderId(null);
  };
  return (
    <main class="page">
      <header class="page-head"><h1>{t("nav.weighRoom")}</h1><p>{t("weighRoom.what")}</p></header>
      <StagePicker />
      <p role="status">{said}</p>
      {rider === undefined ? (
        <div class="tiles">
          {riders.map((r) => <button key={r.id} type="button" class="tile" onClick={() => setRiderId(r.id)}><span><b>{r.race_number}</b>{r.name}</span></button>)}
        </div>
      ) : <Entry key={rider.id} rider={rider} onDone={done} />}
    </main>
  );
}
