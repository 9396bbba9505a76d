import { useEffect, useState } from "preact/hooks";

import { caughtUp, raceLengthKm, stageFaults, stageFrom, STAGE_FIELDS, typedOf, type StageFault, type TypedStage } from "@/core/race_book.ts";
import type { Stage, StageKind } from "@/protocol/records.ts";
import { Problem } from "@/sync/api.ts";
import { go } from "@/ui/route.ts";
import { problemSentence, saveStage } from "@/ui/screens/staff/acts.ts";
import { CoursePart, ForecastPart } from "@/ui/screens/staff/stage_files.tsx";
import { FeedList } from "@/ui/screens/staff/feed_list.tsx";
import { canEdit } from "@/ui/screens/staff/look.ts";
import { Answer, NumberField, type Said, stageTitle } from "@/ui/screens/staff/parts.tsx";
import { ClosedPart, OpenedPart } from "@/ui/screens/staff/stage_feeding.tsx";
import { RolesPart, RulesPart } from "@/ui/screens/staff/stage_rules.tsx";
import { Choice } from "@/ui/screens/staff/sweat_samples.tsx";
import { t } from "@/ui/words.ts";

const KINDS = ["flat", "hilly", "mountain", "time_trial", "mountain_time_trial", "rest"] as const satisfies StageKind[];

const FIELD_WORDS = {
  name: "name", kind: "kind", number: "number", start: "start_at_ms", timeZone: "time_zone", km0: "km0_km", duration: "scheduled_duration_h",
  note: "note", feeds: "feed_points",
} as const satisfies Record<keyof TypedStage, string>;

/** One stage of the book. What is typed stays until it is saved, whatever the server says. */
export function StageEditor({ stage, isNew }: { stage: Stage; isNew: boolean }) {
  const [base, setBase] = useState(stage);
  const [typed, setTyped] = useState<TypedStage>(() => typedOf(stage));
  const [said, setSaid] = useState<Said | null>(null);
  const [isTried, setTried] = useState(false);
  const faults = stageFaults(typed, raceLengthKm(base));
  const latest = newest(stage, base);
  const [opened, setOpened] = useState(latest);
  // Somebody else saved: what is untouched here follows, what is typed here stays and is named.
  useEffect(() => {
    if (latest.version === opened.version) return;
    const { typed: followed, clashes } = caughtUp(typed, opened, latest);
    setOpened(latest);
    setTyped(followed);
    if (clashes.length > 0) setSaid({ text: t("staff.book.clash", { fields: clashes.map((field) => t(`staff.field.${FIELD_WORDS[field]}`)).join(", ") }), isFault: true });
  }, [latest.version]);
  const set = (more: Partial<TypedStage>): void => { setTyped({ ...typed, ...more }); setSaid(null); };

  const save = async (): Promise<void> => {
    setTried(true);
    if (faults.length > 0) {
      setSaid({ text: t("staff.book.faults", { n: faults.length }), isFault: true });
      return;
    }
    try {
      const stored = await saveStage(stageFrom(typed, latest));
      setBase(stored);
      setOpened(stored);
      setTyped(typedOf(stored));
      setTried(false);
      setSaid({ text: t("staff.book.saved"), isFault: false });
      if (isNew) go("race-book", stored.id);
    } catch (problem) {
      const current = problem instanceof Problem && problem.code === "stale_edit" ? (problem.current as Stage | undefined) : undefined;
      if (current !== undefined) setBase(current);
      setSaid({ text: problemSentence(problem), isFault: true });
    }
  };

  return (
    <>
      <h1>{isNew ? t("staff.book.new") : stageTitle(stage)}</h1>
      <div class="sx-editor">
        <form class="sx-panel" aria-label={t("staff.book.form")} onSubmit={(event) => { event.preventDefault(); void save(); }}>
          <fieldset disabled={!canEdit.value} class="sx-bare">
            <StageFields typed={typed} set={set} faults={faults} isTried={isTried} />
            {typed.kind !== "rest" && <FeedList feeds={typed.feeds} faults={faults} lengthKm={raceLengthKm(base)} onFeeds={(feeds) => set({ feeds })} />}
            <div class="sx-field sx-full">
              <label for="stage-note">{t("staff.field.note")}</label>
              <textarea id="stage-note" rows={2} maxLength={400} value={typed.note} onInput={(event) => set({ note: event.currentTarget.value })} />
            </div>
            <button type="submit" class="button button-quiet button-act">{t("staff.book.save")}</button>
          </fieldset>
          <Answer said={said} />
        </form>
        {!isNew && typed.kind !== "rest" && (
          <div class="sx-files">
            <CoursePart stage={newest(stage, base)} km0Text={typed.km0} onStage={setBase} />
            <ForecastPart stage={newest(stage, base)} onStage={setBase} />
            <RulesPart stage={newest(stage, base)} onStage={setBase} />
            <ClosedPart stage={newest(stage, base)} onStage={setBase} />
            <OpenedPart stage={newest(stage, base)} onStage={setBase} />
            <RolesPart stage={newest(stage, base)} onStage={setBase} />
          </div>
        )}
      </div>
    </>
  );
}

/** The later of what this device has pulled and what this editor has been told. */
function newest(stage: Stage, base: Stage): Stage {
  return (stage.version ?? 0) >= (base.version ?? 0) ? stage : base;
}

interface FieldsProps {
  typed: TypedStage;
  set: (more: Partial<TypedStage>) => void;
  faults: readonly StageFault[];
  isTried: boolean;
}

function StageFields({ typed, set, faults, isTried }: FieldsProps) {
  return (
    <div class="sx-shared">
      <TextField id="stage-name" label={t("staff.field.name")} text={typed.name} onText={(name) => set({ name })} issue={isTried && has(faults, "name") ? t("staff.book.name_empty") : null} />
      <NumberField id="stage-number" label={t("staff.field.number")} rule={STAGE_FIELDS.number} text={typed.number} onText={(number) => set({ number })} isShown={isTried} />
      <Choice id="stage-kind" label={t("staff.field.kind")} value={typed.kind} choices={KINDS.map((k) => [k, t(`staff.kind.${k}`)])} onPick={(kind) => set({ kind: kind as StageKind })} />
      <StartFields start={typed.start} onStart={(start) => set({ start })} isOff={has(faults, "start")} />
      <TextField id="stage-zone" label={t("staff.field.time_zone")} text={typed.timeZone} onText={(timeZone) => set({ timeZone })} issue={has(faults, "timeZone") ? t("staff.book.zone_unreadable", { typed: typed.timeZone }) : null} />
      {typed.kind !== "rest" && (
        <>
          <NumberField id="stage-duration" label={t("staff.field.scheduled_duration_h")} rule={STAGE_FIELDS.duration} text={typed.duration} onText={(duration) => set({ duration })} isShown={isTried} />
          <NumberField id="stage-km0" label={t("staff.field.km0_km")} rule={STAGE_FIELDS.km0} text={typed.km0} onText={(km0) => set({ km0 })} isShown={isTried} hint={t("staff.book.km0_hint")} />
        </>
      )}
    </div>
  );
}

/** Day and time apart, since a browser shows a joined field on its own clock of twelve or twenty-four hours. */
function StartFields({ start, onStart, isOff }: { start: string; onStart: (start: string) => void; isOff: boolean }) {
  const [day = "", time = ""] = start.split("T");
  const issue = isOff ? t("staff.book.start_unreadable", { typed: `${day} ${time}`.trim() }) : null;
  return (
    <>
      <TextField id="stage-day" isDay label={t("staff.field.start_on")} text={day} onText={(typed) => onStart(`${typed}T${time}`)} issue={null} />
      <TextField id="stage-time" label={t("staff.field.start_at_ms")} text={time} onText={(typed) => onStart(`${day}T${typed}`)} issue={issue} />
    </>
  );
}

const has = (faults: readonly StageFault[], field: StageFault["field"]): boolean => faults.some((fault) => fault.field === field);

interface TextProps {
  id: string;
  label: string;
  text: string;
  onText: (text: string) => void;
  issue: string | null;
  isDay?: boolean;
}

function TextField({ id, label, text, onText, issue, isDay = false }: TextProps) {
  const entry = {
    id, value: text, "aria-invalid": issue !== null, ...(issue === null ? {} : { "aria-describedby": `${id}-issue` }),
    onInput: (event: { currentTarget: HTMLInputElement }) => onText(event.currentTarget.value),
  };
  return (
    <div class={issue === null ? "sx-field" : "sx-field sx-field-off"}>
      <label for={id}>{label}</label>
      {isDay ? <input type="date" {...entry} /> : <input maxLength={80} {...entry} />}
      {issue !== null && <p class="sx-issue" id={`${id}-issue`} role="alert">{issue}</p>}
    </div>
  );
}
