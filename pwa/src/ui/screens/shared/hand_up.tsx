import { signal } from "@preact/signals";
import { useState } from "preact/hooks";

import { decimal } from "@/core/display.ts";
import type { Drink, FactEvent, FeedPoint, HandedUpBody, Rider } from "@/protocol/records.ts";
import { handedUp, takeBack } from "@/store/commands.ts";
import { currentStage, currentStageId, docsOf, folded, session } from "@/store/state.ts";
import { Button } from "@/ui/parts/button.tsx";
import { StagePicker } from "@/ui/parts/stage_picker.tsx";
import { TwinCards } from "@/ui/parts/twin_card.tsx";
import { t } from "@/ui/words.ts";

const brushId = signal<string | null>(null);
const feedId = signal<string | null>(null);
const lastOne = signal<{ fact: FactEvent; words: string } | null>(null);

const drinks = (): Drink[] => docsOf("drink").sort((a, b) => a.short_name.localeCompare(b.short_name));
const brush = (): Drink | null => drinks().find((drink) => drink.id === brushId.value) ?? drinks()[0] ?? null;
const feeds = (): FeedPoint[] => [...(currentStage.value?.feed_points ?? [])].sort((a, b) => a.km - b.km);
const feed = (): FeedPoint | null => feeds().find((point) => point.id === feedId.value) ?? feeds()[0] ?? null;

function upFor(riderId: string): FactEvent<HandedUpBody>[] {
  return [...folded.value.live.values()].filter((event) =>
    event.kind === "handed_up" && event.subject_id === riderId && event.stage_id === currentStageId.value) as FactEvent<HandedUpBody>[];
}

function counts(facts: readonly FactEvent<HandedUpBody>[]): string {
  const byDrink = new Map<string, number>();
  for (const { body } of facts) byDrink.set(body.drink_id, (byDrink.get(body.drink_id) ?? 0) + (body.n_bottles ?? 1));
  const name = (id: string): string => drinks().find((drink) => drink.id === id)?.short_name ?? id;
  return [...byDrink].map(([id, n]) => `${n} ${name(id)}`).join(" · ");
}

function Tile({ rider, onFault }: { rider: Rider; onFault: (text: string) => void }) {
  const mine = upFor(rider.id);
  const here = mine.filter((fact) => fact.body.feed_km === feed()?.km);
  const give = async (): Promise<void> => {
    const item = brush();
    if (item === null) return;
    try {
      const point = feed();
      const fact = await handedUp(rider.id, currentStageId.value, {
        n_bottles: 1, volume_l: item.bottle_l ?? 0.5, drink_id: item.id, ...(point === null ? {} : { feed_km: point.km }),
      });
      navigator.vibrate?.(40);
      lastOne.value = { fact, words: t("handUp.what", { drink: item.short_name, rider: rider.race_number }) };
      onFault("");
    } catch {
      onFault(t("road.notNoted"));
    }
  };
  return (
    <button type="button" data-road class="tile" onClick={() => void give()} aria-label={t("handUp.tile", { rider: `${rider.race_number} ${rider.name}`, drink: brush()?.name ?? "", here: counts(here) || "0" })}>
      <span><b>{rider.race_number}</b>{rider.name}</span>
      <span class="tile-counts">{counts(here)}</span>
      {mine.length > here.length && <small>{t("handUp.allDay", { counts: counts(mine) })}</small>}
    </button>
  );
}

function TakeBackBar() {
  const act = lastOne.value;
  if (act === null) return null;
  const undo = async (): Promise<void> => {
    await takeBack(act.fact);
    lastOne.value = null;
    navigator.vibrate?.([40, 60, 40]);
  };
  return <div class="take-back"><Button onPress={() => void undo()}>{t("handUp.takeBack", { what: act.words })}</Button></div>;
}

/** Hand-up: the item is a brush, a tap on a rider is one bottle. */
export function HandUp() {
  const [fault, setFault] = useState("");
  const riders = docsOf("rider").sort((a, b) => a.race_number - b.race_number);
  const point = feed();
  return (
    <main class="page page-with-bar">
      <header class="page-head">
        <h1>{point === null ? t("nav.handUp") : `${point.name} · ${t("road.km", { km: decimal(point.km, 0) })}`}</h1>
        <p>{t("handUp.as", { role: t(`role.${session.value?.member.role ?? "soigneur"}`) })}</p>
      </header>
      <div class="picker-row">
        <StagePicker />
        {feeds().length > 0 && (
          <label class="picker">
            <span>{t("handUp.where")}</span>
            <select value={point?.id ?? ""} onChange={(event) => (feedId.value = event.currentTarget.value)}>
              {feeds().map((f) => <option key={f.id} value={f.id}>{t("road.km", { km: decimal(f.km, 0) })} · {f.name}</option>)}
            </select>
          </label>
        )}
      </div>
      <fieldset class="group">
        <legend>{t("handUp.item")}</legend>
        <div class="acts">
          {drinks().map((drink) => (
            <button key={drink.id} type="button" class="button brush" aria-pressed={drink.id === brush()?.id} onClick={() => (brushId.value = drink.id)}>
              {drink.short_name} {Math.round((drink.bottle_l ?? 0.5) * 1000)}
            </button>
          ))}
        </div>
      </fieldset>
      {fault !== "" && <p class="fault" role="alert">{fault}</p>}
      {riders.length === 0 ? <p>{t("road.nothingYet")}</p> : <div class="tiles">{riders.map((rider) => <Tile key={rider.id} rider={rider} onFault={setFault} />)}</div>}
      <TwinCards />
      <TakeBackBar />
    </main>
  );
}
