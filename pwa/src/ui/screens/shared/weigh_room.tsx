import "@/ui/screens/shared/weigh_room.css";

import { useEffect, useState } from "preact/hooks";

import { decimal, millilitres } from "@/core/display.ts";
import {
  bottlesBody, doneBy, faultOf, FIELDS, FIELDS_OF, isTareHigh, isThirdAsked, leftL, mayKeep, MOMENTS, morningBody, NOTHING_TYPED,
  READINGS_AGREE_KG, readingsOf, weighedBody,
  type FieldName, type Moment, type Typed,
} from "@/core/weigh_room.ts";
import type { Rider } from "@/protocol/records.ts";
import { cameBack, morningCheck, weighed } from "@/store/commands.ts";
import { currentStageId, docsOf, folded } from "@/store/state.ts";
import { Button } from "@/ui/parts/button.tsx";
import { Field } from "@/ui/parts/field.tsx";
import { Nothing } from "@/ui/parts/nothing.tsx";
import { StagePicker } from "@/ui/parts/stage_picker.tsx";
import { t } from "@/ui/words.ts";

const IDLE_MS = 60_000;
const TARE_KEY = "weigh-room-tare";

async function keepEntry(rider: string, moment: Moment, typed: Typed): Promise<void> {
  const stage = currentStageId.value;
  if (moment === "bottles") await cameBack(rider, stage, bottlesBody(typed));
  else if (moment === "morning") await morningCheck(rider, stage, morningBody(typed));
  else await weighed(rider, stage, weighedBody(moment, typed));
}

const inOrder = (): Rider[] => docsOf("rider").sort((a, b) => a.race_number - b.race_number);

/** One rider at a time, large; no figure from before is shown, and after an entry the screen goes dark. */
export function WeighRoom() {
  const [moment, setMoment] = useState<Moment>("before");
  const [riderId, setRiderId] = useState<string | null>(null);
  const [dark, setDark] = useState<string | null>(null);
  const riders = inOrder();
  const done = doneBy(folded.value.live.values(), currentStageId.value, moment);
  const rider = riders.find((r) => r.id === riderId);
  const next = riders.find((r) => !done.has(r.id) && r.id !== riderId);
  useEffect(() => {
    if (dark !== null) return undefined;
    let timer = setTimeout(() => setDark(""), IDLE_MS);
    const wake = (): void => {
      clearTimeout(timer);
      timer = setTimeout(() => setDark(""), IDLE_MS);
    };
    const hide = (): void => { if (document.visibilityState === "hidden") setDark(""); };
    addEventListener("pointerdown", wake);
    addEventListener("keydown", wake);
    document.addEventListener("visibilitychange", hide);
    return () => {
      clearTimeout(timer);
      removeEventListener("pointerdown", wake);
      removeEventListener("keydown", wake);
      document.removeEventListener("visibilitychange", hide);
    };
  }, [dark]);
  if (riders.length === 0 || currentStageId.value === null) return <Nothing title={t("nav.weighRoom")} />;
  return (
    <>
      {dark !== null && <Dark said={dark} opens={rider ?? next} onLight={() => setDark(null)} />}
      {/* Out of sight, not gone: what was half typed when the screen went dark is still there. */}
      <main class="page" style={{ display: dark === null ? "" : "none" }}>
        <header class="page-head"><h1>{t("nav.weighRoom")}</h1><p>{t("weighRoom.what")}</p></header>
        {rider === undefined ? (
          <>
            <StagePicker />
            <fieldset class="acts">
              <legend class="hidden">{t("weighRoom.moment")}</legend>
              {MOMENTS.map((one) => <Button key={one} isPressed={moment === one} onPress={() => setMoment(one)}>{t(`weighRoom.${one}`)}</Button>)}
            </fieldset>
            <p role="status">{t("weighRoom.count", { n: done.size, all: riders.length })}</p>
            <Tiles riders={riders} done={done} onPick={setRiderId} />
          </>
        ) : (
          <Entry
            key={`${rider.id} ${moment}`} rider={rider} moment={moment} onBack={() => setRiderId(null)}
            onKept={() => {
              setDark(t("weighRoom.kept", { rider: rider.race_number }));
              setRiderId(next?.id ?? null);
            }}
          />
        )}
      </main>
    </>
  );
}

/** Nobody's figures; a tap opens the entry of the rider it names. */
function Dark({ said, opens, onLight }: { said: string; opens: Rider | undefined; onLight: () => void }) {
  return (
    <main class="page">
      <h1 class="hidden">{t("nav.weighRoom")}</h1>
      <button type="button" class="wr-dark" onClick={onLight} autofocus>
        {said !== "" && <b role="status">{said}</b>}
        <span>{t("weighRoom.dark")}</span>
        <span>{opens === undefined ? t("weighRoom.all") : t("weighRoom.next", { rider: `${opens.race_number} ${opens.name}` })}</span>
      </button>
    </main>
  );
}

function Tiles({ riders, done, onPick }: { riders: readonly Rider[]; done: ReadonlySet<string>; onPick: (id: string) => void }) {
  return (
    <div class="tiles">
      {riders.map((r) => (
        <button key={r.id} type="button" class={done.has(r.id) ? "tile wr-tile-done" : "tile"} onClick={() => onPick(r.id)}>
          <span><b>{r.race_number}</b>{r.name}</span>
          {done.has(r.id) && <small>{t("weighRoom.done")}</small>}
        </button>
      ))}
    </div>
  );
}

interface EntryProps {
  rider: Rider;
  moment: Moment;
  onKept: () => void;
  onBack: () => void;
}

function Entry({ rider, moment, onKept, onBack }: EntryProps) {
  const [typed, setTyped] = useState<Typed>(() => ({ ...NOTHING_TYPED, texts: { tare: localStorage.getItem(TARE_KEY) ?? "", bottles: "1" } }));
  const [isTried, setTried] = useState(false);
  const [fault, setFault] = useState("");
  const setText = (name: FieldName, text: string): void => setTyped({ ...typed, texts: { ...typed.texts, [name]: text } });
  const keepIt = async (): Promise<void> => {
    setTried(true);
    if (!mayKeep(moment, typed)) return;
    try {
      await keepEntry(rider.id, moment, typed);
      if (moment === "bottles") localStorage.setItem(TARE_KEY, typed.texts.tare ?? "");
      onKept();
    } catch {
      setFault(t("road.notNoted"));
    }
  };
  return (
    <form class="group" onSubmit={(event) => { event.preventDefault(); void keepIt(); }}>
      <p class="wr-rider">{rider.race_number}<small>{rider.name}</small></p>
      <h2>{t(`weighRoom.${moment}`)}</h2>
      {moment === "morning" && <p>{t("weighRoom.fasted")}</p>}
      {FIELDS_OF[moment].filter((name) => name !== "mass3" || isThirdAsked(typed)).map((name) => (
        <div key={name} class={name === "mass" ? "wr-mass" : /^mass/.test(name) ? "wr-mass wr-again" : undefined}>
          <Field
            label={t(`weighRoom.field.${name}`)} text={typed.texts[name] ?? ""} onText={(text) => setText(name, text)}
            fault={isTried ? faultText(name, typed.texts[name] ?? "") : null} {...(FIELDS[name].unit === "" ? {} : { unit: FIELDS[name].unit })}
          />
          {name === (isThirdAsked(typed) ? "mass3" : "mass2") && <ReadingsLine typed={typed} />}
        </div>
      ))}
      {(moment === "before" || moment === "after") && <DryTick typed={typed} setTyped={setTyped} />}
      {moment === "morning" && <MorningParts typed={typed} setTyped={setTyped} />}
      {moment === "bottles" && <BottlesLine typed={typed} />}
      {fault !== "" && <p class="fault" role="alert">{fault}</p>}
      <div class="acts"><button type="submit" class="button button-act">{t("weighRoom.keep")}</button><Button onPress={onBack}>{t("weighRoom.back")}</Button></div>
    </form>
  );
}

function faultText(name: FieldName, text: string): string | null {
  const fault = faultOf(name, text);
  if (fault === null) return null;
  return fault === "notNumber" ? t("field.notNumber") : t("field.between", FIELDS[name]);
}

interface PartProps {
  typed: Typed;
  setTyped: (typed: Typed) => void;
}

function DryTick({ typed, setTyped }: PartProps) {
  return (
    <>
      <label class="tick-line">
        <input type="checkbox" checked={typed.isDry} onChange={(event) => setTyped({ ...typed, isDry: event.currentTarget.checked })} />
        {t("weighRoom.dry")}
      </label>
      {!typed.isDry && <p class="flag flag-note">{t("weighRoom.notDry")}</p>}
    </>
  );
}

/** What several readings come to: how far apart they are, and which figure is kept. */
function ReadingsLine({ typed }: { typed: Typed }) {
  const found = readingsOf(typed);
  if (found === null) return null;
  const values = { apart: decimal(found.spreadKg, 2), within: decimal(READINGS_AGREE_KG, 1), mass: decimal(found.massKg, 2) };
  if (found.readingsKg.length === 3) return <p role="status">{t("weighRoom.middle", values)}</p>;
  return <p role="status" class={found.isApart ? "flag flag-caution" : undefined}>{t(found.isApart ? "weighRoom.apart" : "weighRoom.agree", values)}</p>;
}

/** The eight steps of a urine colour chart, from pale to brown; the number says it, the shade only helps the eye. */
const SHADES = ["#fdf8d8", "#fbf0b0", "#f7e27e", "#f0cf4c", "#e3b32c", "#cf8f1e", "#a5641a", "#6e3f17"] as const;

function MorningParts({ typed, setTyped }: PartProps) {
  return (
    <>
      <fieldset class="wr-scale">
        <legend>{t("weighRoom.field.colour")}</legend>
        {SHADES.map((shade, i) => (
          <label key={shade} class={typed.colour === i + 1 ? "wr-on" : ""}>
            <svg class="wr-swatch" viewBox="0 0 10 4" preserveAspectRatio="none" aria-hidden="true"><rect width="10" height="4" fill={shade} /></svg>
            <input type="radio" name="colour" checked={typed.colour === i + 1} onChange={() => setTyped({ ...typed, colour: i + 1 })} />{i + 1}
          </label>
        ))}
      </fieldset>
      <fieldset class="wr-scale">
        <legend>{t("weighRoom.field.thirst")}</legend>
        {Array.from({ length: 9 }, (_, i) => (
          <label key={i} class={typed.thirst === i + 1 ? "wr-on" : ""}>
            <input type="radio" name="thirst" checked={typed.thirst === i + 1} onChange={() => setTyped({ ...typed, thirst: i + 1 })} />{i + 1}
          </label>
        ))}
      </fieldset>
      <label class="tick-line">
        <input type="checkbox" checked={typed.isIll} onChange={(event) => setTyped({ ...typed, isIll: event.currentTarget.checked })} />
        {t("weighRoom.field.ill")}
      </label>
      {typed.isIll && <p class="flag flag-medical" role="status">{t("weighRoom.ill")}</p>}
    </>
  );
}

function BottlesLine({ typed }: { typed: Typed }) {
  const left = leftL(typed);
  if (isTareHigh(typed)) return <p class="field-fault" role="alert">{t("weighRoom.tareHigh")}</p>;
  return left === null ? null : <p role="status">{t("weighRoom.left", { ml: millilitres(left) })}</p>;
}
