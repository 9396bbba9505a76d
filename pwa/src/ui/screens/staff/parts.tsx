import { useEffect, useRef, useState } from "preact/hooks";
import type { ComponentChildren, RefObject } from "preact";

import { MINI_HEIGHT, MINI_KERB_LEFT, MINI_KERB_RIGHT, MINI_WIDTH, type MiniLane } from "@/core/charts.ts";
import { checked, type FieldIssue, type FieldRule } from "@/core/sweat_day.ts";
import type { Flag, LaneWord, Stage } from "@/protocol/records.ts";
import { chosenStageId, currentStageId, lastPassedAtMs, stages } from "@/store/state.ts";
import { decimal, stageDay } from "@/core/display.ts";
import { flagSentence as plainFlagSentence, quantity } from "@/ui/parts/said.ts";
import { href } from "@/ui/route.ts";
import { canEdit } from "@/ui/screens/staff/look.ts";
import { HeldBackLine } from "@/ui/screens/staff/passkeys.tsx";
import { spoken, t } from "@/ui/words.ts";

export function laneWord(word: LaneWord): string {
  return t(`lane.${word}`);
}

/** One mark between two kerbs. The word beside or the label says the same. */
export function MiniLaneMark({ lane, label }: { lane: MiniLane; label: string }) {
  const mid = MINI_HEIGHT / 2;
  const { shape, x, halfWidth } = lane;
  return (
    <svg class="mini-lane" viewBox={`0 0 ${MINI_WIDTH} ${MINI_HEIGHT}`} width={MINI_WIDTH} height={MINI_HEIGHT} role="img" aria-label={label}>
      <rect class="lane-ground" x={MINI_KERB_LEFT} y="1" width={MINI_KERB_RIGHT - MINI_KERB_LEFT} height={MINI_HEIGHT - 2} />
      <path class="lane-kerb" d={`M${MINI_KERB_LEFT} 1V${MINI_HEIGHT - 1}M${MINI_KERB_RIGHT} 1V${MINI_HEIGHT - 1}`} />
      {shape === "hollow" && <circle class="lane-dry" cx={x} cy={mid} r="4" />}
      {shape === "dot" && <rect class="lane-in" x={x - halfWidth} y={mid - 4} width={halfWidth * 2} height="8" rx="4" />}
      {shape === "square" && <rect class="lane-wet" x={x - 4} y={mid - 4} width="8" height="8" />}
      {shape === "bar" && <path class="lane-unsure" d={`M${x - halfWidth} ${mid}H${x + halfWidth}`} />}
    </svg>
  );
}

export function StagePicker({ chosenId, onPick }: { chosenId?: string; onPick?: (stage: Stage) => void }) {
  const chosen = chosenId ?? currentStageId.value;
  return (
    <label class="sx-picker">
      <span>{t("staff.stage")}</span>
      <select
        value={chosen ?? ""}
        onChange={(event) => {
          const stage = stages.value.find((s) => s.id === event.currentTarget.value);
          if (stage === undefined) return;
          chosenStageId.value = stage.id;
          onPick?.(stage);
        }}
      >
        {stages.value.filter((s) => s.kind !== "rest").map((s) => (
          <option value={s.id} key={s.id}>{stageTitle(s)} · {stageDay(s.start_at_ms, s.time_zone)}</option>
        ))}
      </select>
    </label>
  );
}

export function stageTitle(stage: Stage): string {
  return stage.kind === "rest" ? t("staff.rest_day") : t("staff.stage_title", { n: stage.number, name: stage.name });
}

/** A heading that sums up in one line and keeps the actions at its end. */
export function Head({ title, said, children }: { title: string; said?: string; children?: ComponentChildren }) {
  return (
    <header class="sx-head">
      <div>
        <HeldBackLine />
        <h1>{title}</h1>
        {said !== undefined && <p class="sx-said" role="status">{said}</p>}
      </div>
      <div class="sx-head-acts">{children}</div>
    </header>
  );
}

/** How an act went, in words. */
export interface Said {
  readonly text: string;
  readonly isFault: boolean;
}

export function Answer({ said }: { said: Said | null }) {
  return said === null ? null : <p class={said.isFault ? "sx-issue" : "sx-said"} role={said.isFault ? "alert" : "status"}>{said.text}</p>;
}

export function Empty({ text }: { text: string }) {
  return <p class="sx-empty">{text}</p>;
}

/** Before the first rider and stage: who may enter them is led there, the others are told what they wait for. */
export function NothingYet() {
  if (!canEdit.value || lastPassedAtMs.value === null) return <Empty text={t("staff.nothing_yet")} />;
  return <div class="sx-empty"><p>{t("staff.nothing_entered")}</p><p class="acts"><a class="button button-act" href={href("start")}>{t("staff.desk.begin")}</a></p></div>;
}

/** What is wrong with a typed figure, with the figure, its unit and its limit. */
export function issueSentence(issue: FieldIssue, text: string, label: string, rule: FieldRule): string {
  const withUnit = (figure: string): string => `${figure}\u00a0${rule.unit}`.trim();
  const isTyped = issue === "too_low" || issue === "too_high";
  return t(`staff.issue.${issue}`, {
    label, typed: isTyped ? withUnit(text.trim()) : text.trim(), unit: rule.unit === "" ? "none" : rule.unit,
    low: withUnit(decimal(rule.low, digits(rule.low))), high: withUnit(decimal(rule.high, digits(rule.high))),
  });
}

function digits(value: number): number {
  return Number.isInteger(value) ? 0 : 1;
}

interface FieldProps {
  id: string;
  label: string;
  rule: FieldRule;
  text: string;
  onText: (text: string) => void;
  isShown?: boolean;
  hint?: string | undefined;
}

/** A labelled figure with its unit; the fault stands under the field and nothing typed is lost. */
export function NumberField({ id, label, rule, text, onText, isShown = false, hint }: FieldProps) {
  const [isLeft, setLeft] = useState(false);
  const { issue } = checked(text, rule);
  const isSaid = issue !== null && (isShown || (isLeft && issue !== "empty"));
  const notes = [isSaid ? `${id}-issue` : "", hint === undefined ? "" : `${id}-hint`].filter((n) => n !== "").join(" ");
  return (
    <div class={isSaid ? "sx-field sx-field-off" : "sx-field"}>
      <label for={id}>{label}{rule.isOptional === true && <small> {t("staff.optional")}</small>}</label>
      <span class={rule.unit.length > 3 ? "sx-with-unit sx-unit-long" : "sx-with-unit"}>
        <input
          id={id} inputMode="decimal" autocomplete="off" value={text} aria-invalid={isSaid}
          {...(notes === "" ? {} : { "aria-describedby": notes })}
          onInput={(event) => onText(event.currentTarget.value)} onBlur={() => setLeft(true)}
        />
        <span aria-hidden="true">{rule.unit}</span>
      </span>
      {hint !== undefined && <p class="sx-hint" id={`${id}-hint`}>{hint}</p>}
      {isSaid && <p class="sx-issue" id={`${id}-issue`} role="alert">{issueSentence(issue, text, label, rule)}</p>}
    </div>
  );
}

/** Warnings in words, worst first. A medical one always ends with the physician. */
export function Flags({ flags }: { flags: readonly Flag[] }) {
  const rank = { medical: 0, stop: 1, caution: 2, note: 3 } as const;
  const sorted = [...flags].sort((a, b) => rank[a.severity] - rank[b.severity]);
  return (
    <ul class="flags">
      {sorted.map((flag) => (
        <li key={`${flag.code}${flag.quantity ?? ""}`} class={`flag flag-${flag.severity}`}>
          <b>{t(`staff.severity.${flag.severity}`)}</b> {flagSentence(flag)}
        </li>
      ))}
    </ul>
  );
}

export function flagSentence(flag: Flag): string {
  const name = flag.quantity ?? "";
  const values = {
    value: quantity(name, flag.value), limit: quantity(name, flag.limit), detail: flag.detail ?? "",
    quantity: spoken(`staff.quantity.${name}`) ?? bareName(name),
  };
  const said = spoken(`staff.flag.${flag.code}`, values);
  if (said === null) return plainFlagSentence(flag);
  return flag.severity === "medical" ? `${said} ${t("staff.physician")}` : said;
}

/** A quantity's name without the unit at its end, which stands behind the figure already. */
function bareName(name: string): string {
  return name.replace(/_(mmol_per_l|mg_per_l|l_per_h|g_per_h|frac|kg|mg|min|l|g|h|c|w)$/, "").replaceAll("_", " ");
}

/** The width of an element in pixels, so that a chart's letters keep their size. */
export function useWidth(fallback: number): [RefObject<HTMLDivElement | null>, number] {
  const ref = useRef<HTMLDivElement>(null);
  const [width, setWidth] = useState(fallback);
  useEffect(() => {
    const element = ref.current;
    if (element === null) return undefined;
    const observer = new ResizeObserver(() => setWidth(Math.max(260, Math.round(element.clientWidth))));
    observer.observe(element);
    return () => observer.disconnect();
  }, []);
  return [ref, width];
}
