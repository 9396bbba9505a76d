import { computed } from "@preact/signals";
import { useEffect, useState } from "preact/hooks";

import { CAGES, type CageName, drinksOf } from "@/core/cage.ts";
import { kilometres, litres, quarters, volume } from "@/core/display.ts";
import { currentStage, now } from "@/store/state.ts";
import { Evidence } from "@/ui/parts/evidence.tsx";
import { isHintSeen, seeHint } from "@/ui/parts/hint.tsx";
import { Nothing } from "@/ui/parts/nothing.tsx";
import { Lane } from "@/ui/parts/lane.tsx";
import { LinkLine } from "@/ui/parts/link_line.tsx";
import { Bottle, rainIsOver } from "@/ui/screens/rider/bottle.tsx";
import { pocketSentence } from "@/ui/screens/rider/pocket.ts";
import {
  bike, drinkIn, drinks, eat, emptier, foods, isRain, km, lane, laneBasis, type LastAct, last, next, nextFood, otherDrink,
  otherFood, pouredLast, profile, riderId, said, sums, swap, takeLastBack,
} from "@/ui/screens/rider/road_state.ts";
import { useAwake, useIdle } from "@/ui/screens/rider/wake.ts";
import { t } from "@/ui/words.ts";

function BarButton({ onPress, children, isMain = false }: { onPress: () => void; children: preact.ComponentChildren; isMain?: boolean }) {
  return <button type="button" data-road class={isMain ? "bar-button bar-main" : "bar-button"} onClick={onPress}>{children}</button>;
}

function shortName(drinkId: string): string {
  return drinks.value.find((drink) => drink.id === drinkId)?.short_name ?? drinkId;
}

/** "2 × A 500 and 1 × W": what the plan hands up, in the fewest characters. */
function bottleWords(drinkIds: readonly string[]): string {
  const counts = new Map<string, number>();
  for (const id of drinkIds) counts.set(id, (counts.get(id) ?? 0) + 1);
  return [...counts].map(([id, n]) => `${n} × ${shortName(id)}`).join(" + ");
}

/** What to do now, from the phone's own plan: which bottle, by which kilometre, from whom; and the rule in the pocket. */
function NextLine() {
  const step = next.value;
  const pocket = pocketSentence(profile.value?.pocket_rule ?? null, drinks.value);
  return (
    <div class="next">
      {step === null ? <p class="next-step">{t("road.noNext")}</p> : (
        <p class="next-step"><span>{kilometres(step.km)} · {step.feed_name}</span> <b>{bottleWords(drinksOf(step))}</b></p>
      )}
      {pocket !== null && <p class="next-pocket">{pocket}</p>}
    </div>
  );
}

/** Nobody has tapped here yet: the line says how, and never again after the first entry. */
const isFirstTime = computed(() => sums.value.drankEvidence === null && !isHintSeen("road"));

/** Said over the Lane's caption for as long as it matters, so that nothing moves under the thumb. */
function SaidLine() {
  const saying = said.value;
  const text = (): string => {
    if (isRain.value) return t("road.rainSaid");
    if (saying?.code === "already_below") return t("road.alreadyBelow", { level: quarters(saying.levelFrac) });
    if (saying?.code === "not_noted") return t("road.notNoted");
    if (saying?.code === "taken_back") return t("road.takenBack");
    return isFirstTime.value && last.value === null ? t("road.firstHint") : "";
  };
  return <p class="said" role="status">{text()}</p>;
}

function swapLabel(cage: CageName) {
  return <>{t("road.swap")}<small>{t(`cage.${cage}`)}</small></>;
}

const foodName = (id: string | undefined): string => foods.value.find((food) => food.id === id)?.name ?? "";
const POUR_WITHIN_MS = 60_000;

function TakeBack({ act, isMain }: { act: LastAct; isMain: boolean }) {
  const drink = `${quarters(act.shareFrac)} ${shortName(act.before[act.cage].drinkId)}`;
  const what = { drank: drink, poured: t("road.pouredWhat", { what: drink }), swapped: t("road.swapWord"), ate: foodName(act.foodId) }[act.kind];
  return <BarButton isMain={isMain} onPress={() => void takeLastBack()}>{t("road.takeBack")}<small>{what}</small></BarButton>;
}

const Swap = ({ cage, isMain = false }: { cage: CageName; isMain?: boolean }) =>
  <BarButton isMain={isMain} onPress={() => swap(cage)}>{t("road.swap")}<small>{t(`cage.${cage}`)}</small></BarButton>;

function Ate() {
  const food = nextFood.value;
  if (food === null) return <Swap cage={emptier.value === "down_tube" ? "seat_tube" : "down_tube"} />;
  return <BarButton onPress={() => void eat(food.id)}>{t("road.ate")}<small>{food.name}</small></BarButton>;
}

/** The right-hand target: what most likely comes after the last act. */
function Following({ act }: { act: LastAct }) {
  if (act.kind === "ate" && foods.value.length > 1) return <BarButton onPress={() => void otherFood()}>{t("road.otherFood")}</BarButton>;
  if (act.kind === "swapped") {
    return <BarButton onPress={otherDrink}>{t("road.otherDrink")}<small>{drinkIn(act.cage)?.short_name ?? ""}</small></BarButton>;
  }
  if (act.kind === "drank" && now.value - act.atMs < POUR_WITHIN_MS) {
    return <BarButton onPress={() => void pouredLast()}>{t("road.poured")}<small>{t("road.pouredHint")}</small></BarButton>;
  }
  return <Ate />;
}

/** Two equal targets away from the bands; what they do follows the last act. */
function Bar() {
  const act = last.value;
  const saying = said.value;
  if (isRain.value) {
    return <div class="bar bar-rain"><BarButton isMain onPress={rainIsOver}>{t("road.rainGoOn")}</BarButton></div>;
  }
  const asked = saying?.code === "already_below" ? saying.cage : null;
  if (act === null) return <div class="bar"><Swap cage={asked ?? emptier.value} isMain={asked !== null} /><Ate /></div>;
  return (
    <div class="bar">
      <TakeBack act={act} isMain={asked === null} />
      {asked === null ? <Following act={act} /> : <Swap cage={asked} isMain />}
    </div>
  );
}

function Figures() {
  const drunk = volume(sums.value.drankL);
  return (
    <header class="figures">
      <p class="main-figure"><b>{drunk.figure}</b><span>{drunk.unit}</span><Evidence kind={sums.value.drankEvidence} /></p>
      <div class="figures-side">
        <p class="km-figure">{km.value === null ? t("road.stage", { n: currentStage.value?.number ?? 0 }) : kilometres(km.value)}</p>
        <LinkLine />
      </div>
    </header>
  );
}

/** Hides the bands from rain in a pocket; one tap anywhere uncovers, the next one notes. */
function Cover({ onLift }: { onLift: () => void }) {
  return (
    <button type="button" class="cover" onClick={onLift}>
      <span class="cover-figure">{litres(sums.value.drankL)}</span>
      {km.value !== null && <span class="cover-km">{kilometres(km.value)}</span>}
      <span class="cover-hint">{t("road.uncover")}</span>
    </button>
  );
}

/** On the road: two bottles, one tap, no dialog. */
export function Road() {
  const [isCovered, setCovered] = useState(false);
  useAwake();
  useEffect(() => {
    if (last.value !== null) seeHint("road");
  }, [last.value]);
  useIdle(() => setCovered(true));
  useEffect(() => {
    last.value = null;
    said.value = null;
  }, [currentStage.value?.id]);
  if (riderId.value === null || bike.value === null || currentStage.value === null) {
    return <Nothing title={t("road.title")} />;
  }
  return (
    <main class="road" aria-label={t("road.title")}>
      <h1 class="hidden">{t("road.title")}</h1>
      <Figures />
      <NextLine />
      <div class="lane-place">
        <Lane dots={lane.value} height={42} basis={t(`road.lane.${laneBasis.value}`)} />
        <SaidLine />
      </div>
      <div class="bottles">{CAGES.map((cage) => <Bottle key={cage} cage={cage} />)}</div>
      <Bar />
      {isCovered && <Cover onLift={() => setCovered(false)} />}
    </main>
  );
}
