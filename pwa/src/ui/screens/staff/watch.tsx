import { useState } from "preact/hooks";

import { stageTime } from "@/core/display.ts";
import { acknowledgedBy, concernsOf, concernsOfFacts, ranked, type Concern } from "@/core/watch.ts";
import type { Derived, Stage } from "@/protocol/records.ts";
import { append } from "@/store/commands.ts";
import { doc, docsOf, folded, now, stages } from "@/store/state.ts";
import { Button } from "@/ui/parts/button.tsx";
import { Why } from "@/ui/parts/why.tsx";
import { href } from "@/ui/route.ts";
import { memberName, raced, riders, riderTitle, seesMass } from "@/ui/screens/staff/look.ts";
import { flagSentence, Head, stageTitle } from "@/ui/screens/staff/parts.tsx";
import { spoken, t } from "@/ui/words.ts";

const FEW = 7;
const RECENT_MS = 36 * 3_600_000;
const RECENT_STAGES = 1;

/** Every open concern, gravest first. Old stages leave the list; what is medical stays until somebody answers for it. */
export function openConcerns(): Concern[] {
  const place = new Map(stages.value.map((stage, i) => [stage.id, i]));
  const placeOf = (id: string): number => place.get(id) ?? -1;
  const settled = docsOf("settlement");
  const latest = Math.max(-1, ...settled.map((one) => placeOf(one.stage_id)));
  const next = new Set(raced.value.filter((stage) => placeOf(stage.id) > latest).slice(0, RECENT_STAGES).map((stage) => stage.id));
  const isNear = (id: string): boolean => placeOf(id) > latest - RECENT_STAGES && (placeOf(id) <= latest || next.has(id));
  const records = [
    ...settled.map((one) => (isNear(one.stage_id) ? one : { ...one, flags: (one.flags ?? []).filter((flag) => flag.severity === "medical") })),
    ...docsOf("stage_plan").filter((one) => next.has(one.stage_id)),
    ...docsOf("stage_forecast").filter((one) => next.has(one.stage_id)),
    ...docsOf("evening_drink").filter((one) => isNear(one.stage_id)),
    ...docsOf("profile"),
  ];
  const lastStart = stages.value[latest]?.start_at_ms ?? now.value;
  const facts = concernsOfFacts(folded.value.live.values(), Math.min(lastStart, now.value) - RECENT_MS);
  return ranked([...concernsOf(records, placeOf), ...facts]);
}

export function WatchScreen() {
  const [isAll, setAll] = useState(false);
  const all = openConcerns();
  const events = [...folded.value.live.values()].filter((event) => event.kind === "acknowledged");
  const open = all.filter((concern) => acknowledgedBy(events, concern) === null);
  const answered = all.filter((concern) => acknowledgedBy(events, concern) !== null);
  const shown = isAll ? open : open.slice(0, FEW);
  return (
    <main class="sx sx-watch">
      <Head title={t("staff.watch.title")} said={t("staff.watch.count", { n: open.length })} />
      {!seesMass.value && <p class="sx-quiet">{t("staff.watch.not_yours")}</p>}
      {open.length === 0 ? <p class="sx-sound">{t("staff.watch.quiet")}</p> : (
        <ol class="sx-concerns">{shown.map((concern) => <ConcernItem key={concern.key} concern={concern} />)}</ol>
      )}
      {open.length > FEW && <p><Button kind="quiet" onPress={() => setAll(!isAll)}>{isAll ? t("staff.watch.fewer") : t("staff.watch.more", { n: open.length - FEW })}</Button></p>}
      {answered.length > 0 && (
        <section class="sx-panel" aria-labelledby="answered-title">
          <h2 id="answered-title">{t("staff.watch.answered")}</h2>
          <ul class="rows">{answered.map((concern) => <AnsweredLine key={concern.key} concern={concern} />)}</ul>
        </section>
      )}
      <p class="sx-quiet">{t("staff.watch.frame")}</p>
    </main>
  );
}

const riderOf = (id: string): string => {
  const rider = riders.value.find((one) => one.id === id);
  return rider === undefined ? t("staff.somebody") : riderTitle(rider);
};
const stageOf = (id: string | null): Stage | null => stages.value.find((stage) => stage.id === id) ?? null;

function sentenceOf(concern: Concern): string {
  return spoken(`staff.watch.says_${concern.code}`) ?? flagSentence(concern.flag);
}

/** What to do now; a medical concern always ends with the physician. */
function toDo(concern: Concern): string {
  return spoken(`staff.watch.do_${concern.code}`) ?? t(`staff.watch.do_${concern.flag.severity === "medical" ? "medical" : "caution"}`);
}

function ConcernItem({ concern }: { concern: Concern }) {
  const [note, setNote] = useState("");
  const stage = stageOf(concern.stageId);
  const source = concern.documentId === "" ? null : doc<Derived>(concern.documentId);
  const isMedical = concern.flag.severity === "medical";
  const answer = (): Promise<unknown> => append("acknowledged", concern.riderId, {
    code: concern.code, ...(note.trim() === "" ? {} : { note: note.trim() }),
  }, { stageId: concern.stageId });
  return (
    <li class={isMedical ? "sx-concern sx-concern-medical" : "sx-concern"}>
      <h2><a href={href("rider", concern.riderId)}>{riderOf(concern.riderId)}</a> <small>{stage === null ? "" : stageTitle(stage)}</small></h2>
      <p class="sx-rule"><b>{t(`staff.severity.${concern.flag.severity}`)}</b> {sentenceOf(concern)}</p>
      <p><b>{t("staff.watch.do")}</b> {toDo(concern)}</p>
      {isMedical && <p class="flag flag-medical">{t("staff.physician")} {t("staff.watch.physician_why")}</p>}
      {source !== null && <Why of={source} />}
      <span class="sx-line">
        <label class="sx-field"><span>{t("staff.watch.note")}</span><input value={note} maxLength={400} onInput={(event) => setNote(event.currentTarget.value)} /></label>
        <Button kind="quiet" label={`${t("staff.watch.answer")}. ${t("staff.watch.answer_for", { rider: riderOf(concern.riderId), what: sentenceOf(concern) })}`} onPress={() => void answer()}>{t("staff.watch.answer")}</Button>
      </span>
    </li>
  );
}

function AnsweredLine({ concern }: { concern: Concern }) {
  const by = acknowledgedBy(folded.value.live.values(), concern);
  const zone = stageOf(concern.stageId)?.time_zone ?? stages.value[0]?.time_zone ?? "Europe/Paris";
  return (
    <li class="sx-event">
      <span><b>{riderOf(concern.riderId)}</b> {sentenceOf(concern)}</span>
      {by !== null && <small>{memberName(by.by)} {stageTime(by.at_ms, zone)}{by.body.note ? ` · ${by.body.note}` : ""}</small>}
    </li>
  );
}
