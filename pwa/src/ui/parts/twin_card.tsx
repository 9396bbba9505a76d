import { useState } from "preact/hooks";

import { decimal, litres } from "@/core/display.ts";
import { factsOf } from "@/core/progress.ts";
import { linkedPairs, rangeL, twinsOf, type Twin } from "@/core/twins.ts";
import type { FactEvent, Rider } from "@/protocol/records.ts";
import { sameBottle, twoBottles } from "@/store/commands.ts";
import { currentStageId, docsOf, events, folded } from "@/store/state.ts";
import { Button } from "@/ui/parts/button.tsx";
import { t } from "@/ui/words.ts";

const MINUTE_MS = 60_000;

function nameOf(fact: FactEvent): string {
  const rider = docsOf("rider").find(({ id }) => id === fact.subject_id) as Rider | undefined;
  return rider === undefined ? fact.subject_id : `${rider.race_number} ${rider.name}`;
}

interface Place {
  /** One rider's pairs only; everybody's without. */
  readonly riderId?: string;
  readonly stageId?: string;
}

function question(twin: Twin, all: readonly Twin[]): string {
  const { one, other } = twin;
  const [low, high] = rangeL(factsOf(folded.value, one.subject_id, one.stage_id ?? null), all, one.kind);
  const minutes = Math.round(Math.abs(one.at_ms + (one.offset_ms ?? 0) - other.at_ms - (other.offset_ms ?? 0)) / MINUTE_MS);
  const said = (amount: number): string => (one.kind === "ate" ? decimal(amount, 0) : litres(amount));
  return t("twin.said", { rider: nameOf(one), minutes, low: said(low), high: said(high) });
}

/** Likely twins of a stage, or of that on screen: one tap links them, one takes them apart; nothing is merged alone. */
export function TwinCards({ riderId, stageId = currentStageId.value ?? "" }: Place) {
  const isHere = ({ one }: Twin): boolean => (one.stage_id ?? "") === stageId && (riderId ?? one.subject_id) === one.subject_id;
  const [fault, setFault] = useState("");
  const all = twinsOf(folded.value, events.value.values());
  const open = all.filter(isHere);
  const linked = linkedPairs(folded.value, events.value).filter(isHere);
  if (open.length + linked.length === 0) return null;
  const say = (word: Promise<unknown>): void => {
    word.then(() => setFault(""), () => setFault(t("twin.notNoted")));
  };
  return (
    <section class="group" aria-labelledby="twins">
      <h2 id="twins">{t("twin.title")}</h2>
      {open.map((twin) => (
        <div key={twin.one.id + twin.other.id} class="group">
          <p>{question(twin, all)}</p>
          <div class="acts">
            <Button onPress={() => say(sameBottle(twin.one, twin.other))}>{t("twin.same")}</Button>
            <Button onPress={() => say(twoBottles(twin.one, twin.other))}>{t("twin.two")}</Button>
          </div>
        </div>
      ))}
      {linked.map((twin) => (
        <div key={twin.one.id + twin.other.id} class="group">
          <p>{t("twin.linked", { rider: nameOf(twin.one) })}</p>
          <div class="acts"><Button kind="quiet" onPress={() => say(twoBottles(twin.one, twin.other))}>{t("twin.apart")}</Button></div>
        </div>
      ))}
      {fault !== "" && <p class="fault" role="alert">{fault}</p>}
    </section>
  );
}
