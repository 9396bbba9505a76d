import { useEffect, useState } from "preact/hooks";

import { CAGES, type CageName, drinksOf } from "@/core/cage.ts";
import { decimal, litresFigure, quarters } from "@/core/display.ts";
import { currentStage } from "@/store/state.ts";
import { Evidence } from "@/ui/parts/evidence.tsx";
import { Lane } from "@/ui/parts/lane.tsx";
import { LinkLine } from "@/ui/parts/link_line.tsx";
import { Bottle, rainIsOver } from "@/ui/screens/rider/bottle.tsx";
import { pocketSentence } from "@/ui/screens/rider/pocket.ts";
import {
  bike, drinkIn, drinks, isRain, km, lane, laneBasis, last, next, otherDrink, pouredLast, profile, riderId, said, sums, swap,
  takeLastBack,
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

function NextLine() {
  const step = next.value;
  const pocket = pocketSentence(profile.value?.pocket_rule ?? null, drinks.value);
  return (
    <div class="next">
      {step === null ? <p class="next-step">{t("road.noNext")}</p> : (
        <p class="next-step"><span>{t("road.next", { km: decimal(step.km, 0) })}</span> <b>{bottleWords(drinksOf(step)) || step.feed_name}</b></p>
      )}
      {pocket !== null && <p class="next-pocket">{pocket}</p>}
    </div>
  );
}

/** Said over the Lane's caption for as long as it matters, so that nothing moves under the thumb. */
function SaidLine() {
  const saying = said.value;
  const text = (): string => {
    if (isRain.value) return t("road.rainSaid");
    if (saying?.code === "already_below") return t("road.alreadyBelow", { level: quarters(saying.levelFrac) });
    if (saying?.code === "not_noted") return t("road.notNoted");
    return saying?.code === "taken_back" ? t("road.takenBack") : "";
  };
  return <p class="said" role="status">{text()}</p>;
}

function swapLabel(cage: CageName) {
  return <>{t("road.swap")}<small>{t(`cage.${cage}`)}</small></>;
}

/** Two equal targets away from the bands; what they do follows the last act. */
function Bar() {
  const act = last.value;
  const saying = said.value;
  if (isRain.value) {
    return <div class="bar bar-rain"><BarButton isMain onPress={rainIsOver}>{t("road.rainGoOn")}</BarButton></div>;
  }
  const asked = saying?.code === "already_below" ? saying.cage : null;
  if (act === null) {
    return (
      <div class="bar">
        {CAGES.map((cage) => <BarButton key={cage} isMain={asked === cage} onPress={() => swap(cage)}>{swapLabel(cage)}</BarButton>)}
      </div>
    );
  }
  const what = act.kind === "swapped" ? t("road.swapWord") : `${quarters(act.shareFrac)} ${shortName(act.before[act.cage].drinkId)}`;
  return (
    <div class="bar">
      <BarButton isMain={asked === null} onPress={() => void takeLastBack()}>{t("road.takeBack")}<small>{act.kind === "poured" ? t("road.pouredWhat", { what }) : what}</small></BarButton>
      {asked !== null && <BarButton isMain onPress={() => swap(asked)}>{swapLabel(asked)}</BarButton>}
      {asked === null && act.kind === "drank" && <BarButton onPress={() => void pouredLast()}>{t("road.poured")}<small>{t("road.pouredHint")}</small></BarButton>}
      {asked === null && act.kind === "poured" && <BarButton onPress={() => swap(act.cage)}>{swapLabel(act.cage)}</BarButton>}
      {asked === null && act.kind === "swapped" && (
        <BarButton onPress={otherDrink}>{t("road.otherDrink")}<small>{drinkIn(act.cage)?.short_name ?? ""}</small></BarButton>
      )}
    </div>
  );
}

function Figures() {
  return (
    <header class="figures">
      <p class="main-figure"><b>{litresFigure(sums.value.drankL)}</b><span>L</span><Evidence kind={sums.value.drankEvidence} /></p>
      <div class="figures-side">
        <p class="km-figure">{km.value === null ? t("road.stage", { n: currentStage.value?.number ?? 0 }) : t("road.km", { km: decimal(km.value, 0) })}</p>
        <LinkLine />
      </div>
    </header>
  );
}

/** Hides the bands from rain in a pocket; one tap anywhere uncovers, the next one notes. */
function Cover({ onLift }: { onLift: () => void }) {
  return (
    <button type="button" class="cover" onClick={onLift}>
      <span class="cover-figure">{litresFigure(sums.value.drankL)} L</span>
      {km.value !== null && <span class="cover-km">{t("road.km", { km: decimal(km.value, 0) })}</span>}
      <span class="cover-hint">{t("road.uncover")}</span>
    </button>
  );
}

/** On the road: two bottles, one tap, no dialog. */
export function Road() {
  const [isCovered, setCovered] = useState(false);
  useAwake();
  useIdle(() => setCovered(true));
  useEffect(() => {
    last.value = null;
    said.value = null;
  }, [currentStage.value?.id]);
  if (riderId.value === null || bike.value === null || currentStage.value === null) {
    return <main class="page"><h1>{t("road.title")}</h1><p>{t("road.nothingYet")}</p><LinkLine /></main>;
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
