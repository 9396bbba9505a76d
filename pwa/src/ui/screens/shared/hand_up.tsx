import { signal } from "@preact/signals";
import type { ComponentChildren } from "preact";
import { useState } from "preact/hooks";

import { bottlesIn, type Share, shareOut } from "@/core/carry.ts";
import { kilometres } from "@/core/display.ts";
import type { BottleSheet, Drink, FactEvent, FeedPoint, HandedUpBody, Rider } from "@/protocol/records.ts";
import { handedUp, takeBack } from "@/store/commands.ts";
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

/** What the plan hands up here, for a rider: bottles per drink. */
function planned(riderId: string): [drinkId: string, n: number][] {
  const sheet = doc<BottleSheet>(`bottle_sheet:${riderId}:${currentStageId.value ?? ""}`);
  const step = sheet?.steps.find((one) => one.feed_id === feed()?.id);
  return Object.entries(step?.bottles ?? {}).filter(([, n]) => n > 0);
}

const MUSETTE = "musette";
const isMusette = (): boolean => brushId.value === MUSETTE;

async function bottles(riderId: string, drink: Drink, n: number, more: Partial<HandedUpBody> = {}): Promise<FactEvent> {
  const point = feed();
  return handedUp(riderId, currentStageId.value, {
    n_bottles: n, volume_l: drink.bottle_l ?? 0.5, drink_id: drink.id, ...(point === null ? {} : { feed_km: point.km }), ...more,
  });
}

/** A musette is what the plan packed for this rider here: one tap, one entry per drink. Null when none is planned. */
async function giveMusette(rider: Rider): Promise<LastFact | null> {
  const facts: FactEvent[] = [];
  for (const [id, n] of planned(rider.id)) {
    const drink = drinksByName().find((one) => one.id === id);
    if (drink !== undefined) facts.push(await bottles(rider.id, drink, n));
  }
  if (facts.length === 0) return null;
  return { facts, words: t("handUp.what", { drink: t("handUp.musette"), rider: rider.race_number }) };
}

/** One of the carrier's bottles reaches its rider; taken back, it is with the carrier again. */
async function giveShare(share: Share, rider: Rider, carrier: Rider, name: string): Promise<LastFact> {
  await takeBack(share.leaves);
  if (share.stays !== null) await handedUp(carrier.id, currentStageId.value, share.stays);
  const fact = await handedUp(rider.id, currentStageId.value, share.goes);
  return {
    facts: [fact], words: t("handUp.shared", { drink: name, rider: rider.race_number, carrier: carrier.race_number }),
    putBack: () => handedUp(carrier.id, currentStageId.value, share.goes),
  };
}

/** One bottle of the brush: to the rider, to the carrier for others, or from the carrier to the rider. */
async function giveOne(rider: Rider, drink: Drink): Promise<LastFact> {
  const carrier = ridersByNumber().find((one) => one.id === carrierId.value);
  const share = carrier === undefined || carrier.id === rider.id ? null : shareOut(carriedBy(carrier.id), drink.id);
  if (carrier !== undefined && share !== null) return giveShare(share, rider, carrier, drink.short_name);
  const fact = await bottles(rider.id, drink, 1, carrier === undefined ? {} : { carried_by: carrier.id });
  return { facts: [fact], words: t("handUp.what", { drink: drink.short_name, rider: rider.race_number }) };
}

function Tile({ rider, onFault }: { rider: Rider; onFault: (text: string) => void }) {
  const mine = handedUpTo(rider.id);
  const here = mine.filter((fact) => fact.body.feed_km === feed()?.km);
  const plan = countWords(planned(rider.id));
  const isCarrier = carrierId.value === rider.id;
  const give = async (): Promise<void> => {
    const item = brush();
    try {
      const given = isMusette() ? await giveMusette(rider) : item && (await giveOne(rider, item));
      if (given === null) {
        onFault(t("handUp.noMusette", { rider: rider.race_number }));
        return;
      }
      navigator.vibrate?.(40);
      seeHint("handUp");
      lastOne.value = given;
      onFault("");
    } catch {
      onFault(t("road.notNoted"));
    }
  };
  const nCarried = bottlesIn(carriedBy(rider.id));
  return (
    <button type="button" data-road class={isCarrier ? "tile tile-carrier" : "tile"} onClick={() => void give()}>
      <span><b>{rider.race_number}</b>{rider.name}</span>
      <span class="tile-counts">{countWords(countsOf(here))}</span>
      <span class="hidden">{t("handUp.tile", { drink: isMusette() ? t("handUp.musette") : (brush()?.name ?? "") })}</span>
      <small>{[plan === "" ? "" : t("handUp.planned", { counts: plan }), nCarried > 0 ? t("handUp.carries", { n: nCarried }) : ""].filter((part) => part !== "").join(" · ")}</small>
    </button>
  );
}

/** What the carrier still has for others, in words. */
function Carrying({ carrierId: id }: { carrierId: string }) {
  const rider = ridersByNumber().find((one) => one.id === id);
  const carried = carriedBy(id);
  if (rider === undefined) return null;
  return (
    <p class="field-hint" role="status">
      {carried.length === 0 ? t("handUp.carryHow", { rider: rider.race_number }) : t("handUp.carryHas", { rider: rider.race_number, counts: countWords(countsOf(carried)) })}
    </p>
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
            <button key={drink.id} type="button" class="button brush" aria-pressed={!isMusette() && drink.id === brush()?.id} onClick={() => (brushId.value = drink.id)}>
              {drink.short_name} {Math.round((drink.bottle_l ?? 0.5) * 1000)}
            </button>
          ))}
          <button type="button" class="button brush" aria-pressed={isMusette()} onClick={() => (brushId.value = MUSETTE)}>{t("handUp.musette")}</button>
        </div>
      </fieldset>
      {fault !== "" && <p class="fault" role="alert">{fault}</p>}
      <div class="tiles">{riders.map((rider) => <Tile key={rider.id} rider={rider} onFault={setFault} />)}</div>
      <Pick label={t("handUp.carrier")} value={carrierId.value ?? ""} onPick={(id) => (carrierId.value = id === "" ? null : id)}>
        <option value="">{t("handUp.carrierNone")}</option>
        {riders.map((rider) => <option key={rider.id} value={rider.id}>{rider.race_number} {rider.name}</option>)}
      </Pick>
      {carrierId.value !== null && <Carrying carrierId={carrierId.value} />}
      <TwinCards />
      <TakeBackBar act={lastOne.value} onDone={() => (lastOne.value = null)} />
    </main>
  );
}
