import { signal } from "@preact/signals";
import type { ComponentChildren } from "preact";
import { useState } from "preact/hooks";

import { kilometres } from "@/core/display.ts";
import type { BottleSheet, Drink, FeedPoint, Rider } from "@/protocol/records.ts";
import { handedUp } from "@/store/commands.ts";
import { currentStage, currentStageId, doc, session } from "@/store/state.ts";
import { Button } from "@/ui/parts/button.tsx";
import { Hint, seeHint } from "@/ui/parts/hint.tsx";
import { Nothing } from "@/ui/parts/nothing.tsx";
import { StagePicker } from "@/ui/parts/stage_picker.tsx";
import { type LastFact, TakeBackBar } from "@/ui/parts/take_back_bar.tsx";
import { carriedBy, countsOf, countWords, drinksByName, handedUpTo, ridersByNumber } from "@/ui/screens/shared/crew_state.ts";
import { TwinCards } from "@/ui/parts/twin_card.tsx";
import { t } from "@/ui/words.ts";

const brushId = signal<string | null>(null);
const feedId = signal<string | null>(null);
const lastOne = signal<LastFact | null>(null);

/** Who carries what is handed up now: a domestique fetching for others. */
const carrierId = signal<string | null>(null);

const feeds = (): FeedPoint[] => [...(currentStage.value?.feed_points ?? [])].sort((a, b) => a.km - b.km);
const feed = (): FeedPoint | null => feeds().find((point) => point.id === feedId.value) ?? feeds()[0] ?? null;
const brush = (): Drink | null => drinksByName().find((drink) => drink.id === brushId.value) ?? drinksByName()[0] ?? null;

/** Bottles the plan hands up here, for a rider: "2 S · 1 W". */
function planned(riderId: string): string {
  const sheet = doc<BottleSheet>(`bottle_sheet:${riderId}:${currentStageId.value ?? ""}`);
  const step = sheet?.steps.find((one) => one.feed_id === feed()?.id);
  return countWords(Object.entries(step?.bottles ?? {}));
}

function Tile({ rider, onFault }: { rider: Rider; onFault: (text: string) => void }) {
  const mine = handedUpTo(rider.id);
  const here = mine.filter((fact) => fact.body.feed_km === feed()?.km);
  const plan = planned(rider.id);
  const carrier = carrierId.value;
  const isCarrier = carrier === rider.id;
  const give = async (): Promise<void> => {
    const item = brush();
    if (item === null) return;
    try {
      const point = feed();
      const fact = await handedUp(rider.id, currentStageId.value, {
        n_bottles: 1, volume_l: item.bottle_l ?? 0.5, drink_id: item.id, ...(point === null ? {} : { feed_km: point.km }),
        ...(carrier === null || isCarrier ? {} : { carried_by: carrier }),
      });
      navigator.vibrate?.(40);
      seeHint("handUp");
      lastOne.value = { fact, words: t("handUp.what", { drink: item.short_name, rider: rider.race_number }) };
      onFault("");
    } catch {
      onFault(t("road.notNoted"));
    }
  };
  const nCarried = carriedBy(rider.id);
  return (
    <button type="button" data-road class={isCarrier ? "tile tile-carrier" : "tile"} onClick={() => void give()}>
      <span><b>{rider.race_number}</b>{rider.name}</span>
      <span class="tile-counts">{countWords(countsOf(here))}</span>
      <span class="hidden">{t("handUp.tile", { drink: brush()?.name ?? "" })}</span>
      <small>{[plan === "" ? "" : t("handUp.planned", { counts: plan }), nCarried > 0 ? t("handUp.carries", { n: nCarried }) : ""].filter((part) => part !== "").join(" · ")}</small>
    </button>
  );
}

/** The one list of a hand-up's choices; a native one works with gloves, a keyboard and a screen reader alike. */
function Pick({ label, value, onPick, children }: { label: string; value: string; onPick: (value: string) => void; children: ComponentChildren }) {
  return <label class="picker"><span>{label}</span><select value={value} onChange={(event) => onPick(event.currentTarget.value)}>{children}</select></label>;
}

/** Hand-up: the item is a brush, a tap on a rider is one bottle. */
export function HandUp() {
  const [fault, setFault] = useState("");
  const riders = ridersByNumber();
  const point = feed();
  if (riders.length === 0) return <Nothing title={t("nav.handUp")} />;
  return (
    <main class="page page-with-bar">
      <header class="page-head">
        <h1>{point === null ? t("nav.handUp") : `${point.name} · ${kilometres(point.km)}`}</h1>
        <p>{t("handUp.as", { role: t(`role.${session.value?.member.role ?? "soigneur"}`) })}</p>
      </header>
      <div class="picker-row">
        <StagePicker />
        {feeds().length > 0 && (
          <Pick label={t("handUp.where")} value={point?.id ?? ""} onPick={(id) => (feedId.value = id)}>
            {feeds().map((f) => <option key={f.id} value={f.id}>{kilometres(f.km)} · {f.name}</option>)}
          </Pick>
        )}
      </div>
      <Hint name="handUp">{t("handUp.hint")}</Hint>
      <fieldset class="group">
        <legend>{t("handUp.item")}</legend>
        <div class="acts">
          {drinksByName().map((drink) => (
            <button key={drink.id} type="button" class="button brush" aria-pressed={drink.id === brush()?.id} onClick={() => (brushId.value = drink.id)}>
              {drink.short_name} {Math.round((drink.bottle_l ?? 0.5) * 1000)}
            </button>
          ))}
        </div>
      </fieldset>
      {fault !== "" && <p class="fault" role="alert">{fault}</p>}
      <div class="tiles">{riders.map((rider) => <Tile key={rider.id} rider={rider} onFault={setFault} />)}</div>
      <Pick label={t("handUp.carrier")} value={carrierId.value ?? ""} onPick={(id) => (carrierId.value = id === "" ? null : id)}>
        <option value="">{t("handUp.carrierNone")}</option>
        {riders.map((rider) => <option key={rider.id} value={rider.id}>{rider.race_number} {rider.name}</option>)}
      </Pick>
      <TwinCards />
      <TakeBackBar act={lastOne.value} onDone={() => (lastOne.value = null)} />
    </main>
  );
}
