import { signal } from "@preact/signals";
import { useEffect, useRef, useState } from "preact/hooks";

import { decimal, litres, millilitres, parseNumber, quarters } from "@/core/display.ts";
import { bottleOf, type LabelledBottle, leftL } from "@/core/returned.ts";
import type { CameBackBody, Document, Drink, Rider } from "@/protocol/records.ts";
import { cameBack } from "@/store/commands.ts";
import { currentStageId, docs } from "@/store/state.ts";
import { Button } from "@/ui/parts/button.tsx";
import { Evidence } from "@/ui/parts/evidence.tsx";
import { Field } from "@/ui/parts/field.tsx";
import { Hint, seeHint } from "@/ui/parts/hint.tsx";
import { Nothing } from "@/ui/parts/nothing.tsx";
import { StagePicker } from "@/ui/parts/stage_picker.tsx";
import { type LastFact, TakeBackBar } from "@/ui/parts/take_back_bar.tsx";
import { href } from "@/ui/route.ts";
import { cameBackFrom, countsOf, drinksByName, handedUpTo, ridersByNumber } from "@/ui/screens/shared/crew_state.ts";
import { scan } from "@/ui/screens/shared/scan.ts";
import { t } from "@/ui/words.ts";

const lastOne = signal<LastFact | null>(null);
const TARE_SHELF = "brinebook.tare_g";
const MOST_G = 3000;

/** The labelled bottles of the stage on screen, from its prep sheet. */
function labelled(): LabelledBottle[] {
  const sheets = [...docs.value.values()].filter((one) => one.type === ("prep_sheet" as Document["type"]));
  const bodies = sheets.map((one) => one.body as { stage_id: string; places: { bottles: LabelledBottle[] }[] } | null);
  return bodies.filter((body) => body?.stage_id === currentStageId.value).flatMap((body) => body?.places ?? []).flatMap((place) => place.bottles);
}

async function keepReturn(rider: Rider, drink: Drink, body: CameBackBody): Promise<void> {
  const fact = await cameBack(rider.id, currentStageId.value, { ...body, drink_id: drink.id });
  navigator.vibrate?.(40);
  seeHint("returns");
  lastOne.value = { facts: [fact], words: t("returns.what", { rider: rider.race_number, drink: drink.short_name, left: millilitres(body.left_l) }) };
}

function gramsFault(text: string): string | null {
  const value = parseNumber(text);
  if (value === null) return t("field.notNumber");
  return value < 0 || value > MOST_G ? t("field.between", { low: 0, high: MOST_G }) : null;
}

/** On the scale: the bottle as it came, less the bottle empty. The empty one is remembered on this phone. */
function OnScale({ rider, drink, onFault }: { rider: Rider; drink: Drink; onFault: (text: string) => void }) {
  const [gross, setGross] = useState("");
  const [tare, setTare] = useState(localStorage.getItem(TARE_SHELF) ?? "");
  const [isTried, setTried] = useState(false);
  const [grossFault, tareFault] = [gramsFault(gross), gramsFault(tare)];
  const left = leftL(parseNumber(gross) ?? 0, parseNumber(tare) ?? 0, drink.carbohydrate_g_per_l ?? 0);
  const isLighter = grossFault === null && tareFault === null && (parseNumber(gross) ?? 0) < (parseNumber(tare) ?? 0);
  const keepIt = async (): Promise<void> => {
    setTried(true);
    if (grossFault !== null || tareFault !== null || isLighter) return;
    try {
      localStorage.setItem(TARE_SHELF, tare);
      await keepReturn(rider, drink, { left_l: left, how: "weighed" });
      setGross("");
      setTried(false);
    } catch {
      onFault(t("road.notNoted"));
    }
  };
  return (
    <details class="why">
      <summary>{t("returns.weigh")}</summary>
      <div class="group">
        <div class="field-row">
          <Field label={t("returns.gross")} unit="g" text={gross} onText={setGross} fault={isTried ? (isLighter ? t("returns.lighter") : grossFault) : null} />
          <Field label={t("returns.tare")} unit="g" text={tare} onText={setTare} fault={isTried ? tareFault : null} hint={t("returns.tareHint")} />
        </div>
        {grossFault === null && tareFault === null && !isLighter && <p>{t("returns.left", { litres: millilitres(left) })} <Evidence kind="weighed" /></p>}
        <div class="acts"><Button kind="act" onPress={() => void keepIt()}>{t("returns.keep")}</Button></div>
      </div>
    </details>
  );
}

/** One rider: which drink it was, then one tap on what is left in it. */
function Counter({ rider, drinkId, onClose }: { rider: Rider; drinkId: string | null; onClose: () => void }) {
  const up = countsOf(handedUpTo(rider.id));
  const all = drinksByName();
  const offered = all.filter((drink) => up.some(([id]) => id === drink.id));
  const [chosen, setChosen] = useState(drinkId ?? offered[0]?.id ?? all[0]?.id ?? "");
  const [fault, setFault] = useState("");
  const drink = all.find((one) => one.id === chosen);
  const back = cameBackFrom(rider.id);
  const nUp = up.reduce((n, [, count]) => n + count, 0);
  const count = async (level: number): Promise<void> => {
    if (drink === undefined) return;
    try {
      await keepReturn(rider, drink, { left_l: level * (drink.bottle_l ?? 0.5), how: "counted" });
    } catch {
      setFault(t("road.notNoted"));
    }
  };
  return (
    <section class="group" aria-labelledby="counter">
      <h2 id="counter">{rider.race_number} {rider.name}</h2>
      <p>{t("returns.sum", { up: nUp, back: back.length, litres: litres(back.reduce((sum, fact) => sum + fact.body.left_l, 0)) })}</p>
      <fieldset class="group">
        <legend>{t("returns.drink")}</legend>
        <div class="acts">
          {(offered.length > 0 ? offered : all).map((one) => <button key={one.id} type="button" class="button brush" aria-pressed={one.id === chosen} onClick={() => setChosen(one.id)}>{one.short_name}</button>)}
        </div>
      </fieldset>
      <fieldset class="group">
        <legend>{t("returns.leftIn")}</legend>
        <div class="levels">
          {[0, 0.25, 0.5, 0.75, 1].map((level) => (
            <button key={level} type="button" class="level" onClick={() => void count(level)} aria-label={level === 0 ? t("returns.empty") : t("returns.level", { level: quarters(level) })}>
              <i aria-hidden="true" style={{ height: `${level * 100}%` }} /><b aria-hidden="true">{quarters(level)}</b>
            </button>
          ))}
        </div>
      </fieldset>
      {drink !== undefined && <OnScale key={drink.id} rider={rider} drink={drink} onFault={setFault} />}
      {fault !== "" && <p class="fault" role="alert">{fault}</p>}
      <div class="acts"><Button onPress={onClose}>{t("returns.all")}</Button><a class="button" href={href("bus", rider.id)}>{t("returns.ask")}</a></div>
    </section>
  );
}

function Camera({ onText, onClose }: { onText: (text: string) => void; onClose: (fault: string) => void }) {
  const video = useRef<HTMLVideoElement>(null);
  useEffect(() => {
    let stop = (): void => undefined;
    let isGone = false;
    if (video.current !== null) {
      scan(video.current, onText).then(
        (stopNow) => {
          if (isGone) stopNow();
          else stop = stopNow;
        },
        () => onClose(t("returns.noCamera")),
      );
    }
    return () => {
      isGone = true;
      stop();
    };
  }, []);
  return (
    <div class="group">
      <video ref={video} class="camera" playsInline muted aria-label={t("returns.camera")} />
      <Button onPress={() => onClose("")}>{t("returns.stopCamera")}</Button>
    </div>
  );
}

/** Returns: bottles that came back, by label, by number or by rider; counted, or on the scale. */
export function Returns() {
  const [riderId, setRiderId] = useState<string | null>(null);
  const [drinkId, setDrinkId] = useState<string | null>(null);
  const [isCamera, setCamera] = useState(false);
  const [typed, setTyped] = useState("");
  const [said, setSaid] = useState("");
  const riders = ridersByNumber();
  if (riders.length === 0) return <Nothing title={t("nav.returns")} />;
  const rider = riders.find((one) => one.id === riderId);
  const find = (text: string): void => {
    const bottle = bottleOf(labelled(), text);
    if (bottle === null || !bottle.rider_id) {
      setSaid(bottle === null ? t("returns.unknown", { text: text.slice(-12) }) : t("returns.spare", { n: decimal(bottle.number, 0) }));
      return;
    }
    setSaid("");
    setTyped("");
    setCamera(false);
    setDrinkId(bottle.drink_id);
    setRiderId(bottle.rider_id);
  };
  return (
    <main class="page page-with-bar">
      <header class="page-head"><h1>{t("nav.returns")}</h1><p>{t("returns.title")}</p></header>
      <StagePicker />
      <Hint name="returns">{t("returns.hint")}</Hint>
      {rider !== undefined ? <Counter key={rider.id + (drinkId ?? "")} rider={rider} drinkId={drinkId} onClose={() => setRiderId(null)} /> : (
        <>
          {isCamera ? <Camera onText={find} onClose={(fault) => { setCamera(false); setSaid(fault); }} /> : (
            <form class="scan-row" onSubmit={(event) => { event.preventDefault(); find(typed); }}>
              <Field label={t("returns.number")} text={typed} onText={setTyped} mode="text" />
              <Button onPress={() => find(typed)}>{t("returns.find")}</Button>
              <Button onPress={() => setCamera(true)}>{t("returns.scan")}</Button>
            </form>
          )}
          <p role="status">{said}</p>
          <div class="tiles">
            {riders.map((one) => {
              const nBack = cameBackFrom(one.id).length;
              const nUp = countsOf(handedUpTo(one.id)).reduce((n, [, count]) => n + count, 0);
              return (
                <button key={one.id} type="button" data-road class="tile" onClick={() => { setDrinkId(null); setRiderId(one.id); }}>
                  <span><b>{one.race_number}</b>{one.name}</span>
                  <span class="tile-counts">{t("returns.tile", { back: nBack, up: nUp })}</span>
                </button>
              );
            })}
          </div>
        </>
      )}
      <TakeBackBar act={lastOne.value} onDone={() => (lastOne.value = null)} />
    </main>
  );
}
