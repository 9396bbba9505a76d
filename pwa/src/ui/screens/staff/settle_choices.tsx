import { useState } from "preact/hooks";

import { litresFigure, stageTime } from "@/core/display.ts";
import { factsOfCell, RAW_COLUMNS, volumeOf, type EditColumn } from "@/core/settle_edit.ts";
import type { AgreedBody, FactEvent, Stage, WeighedBody } from "@/protocol/records.ts";
import { Button } from "@/ui/parts/button.tsx";
import { agree, reopen } from "@/ui/screens/staff/acts.ts";
import { memberName } from "@/ui/screens/staff/look.ts";
import { agreeRow, columnWord, goTo, keepCell } from "@/ui/screens/staff/settle_acts.ts";
import {
  draftOf, newDraft, readiness, REASONS, refused, setDraft, unseenFacts, valueOfCell, type RiderRow,
} from "@/ui/screens/staff/settle_state.ts";
import { spoken, t } from "@/ui/words.ts";

interface ChoiceProps {
  r: RiderRow;
  stage: Stage;
}

/** Two people agreed two figures without seeing each other: both stand here until one of them is chosen. */
export function BesideEachOther({ r, stage }: ChoiceProps) {
  if (r.rivals.length === 0) return null;
  const all = [...r.rivals, r.standing.at(-1)].filter((one): one is FactEvent<AgreedBody> => one !== undefined);
  const choose = (drunkL: number): Promise<void> => agree(r.rider.id, stage.id, {
    drunkL, proposedL: r.row.proposedL, reason: "", note: "", over: r.standing.map((one) => one.id),
  });
  return (
    <div class="sx-two" role="group" aria-label={t("staff.settle.two_figures")}>
      <p><b>{t("staff.settle.two_said")}</b></p>
      {all.map((one) => (
        <p key={one.id} class="sx-line">
          <span class="sx-two-figure">{litresFigure(one.body.drunk_l)} L</span>
          <span>{memberName(one.by)} {stageTime(one.at_ms, stage.time_zone)}</span>
          <Button kind="quiet" onPress={() => void choose(one.body.drunk_l)}>{t("staff.settle.take_figure", { l: litresFigure(one.body.drunk_l) })}</Button>
        </p>
      ))}
    </div>
  );
}

/** Somebody else changed a cell while it was typed in here: nothing is put in place of the other without a word. */
export function UnseenLines({ r, stage }: ChoiceProps) {
  const columns: readonly EditColumn[] = [...RAW_COLUMNS, "agreed"];
  return (
    <>
      {columns.map((column) => {
        const draft = draftOf(stage.id, r.rider.id, column);
        const theirs = draft === null || draft.text.trim() === "" ? [] : unseenFacts(r, column, draft);
        const last = theirs.at(-1);
        if (draft === null || last === undefined) return null;
        const keepMine = async (): Promise<void> => {
          setDraft(stage.id, r.rider.id, column, { ...newDraft(r, column, draft.text), reason: draft.reason, note: draft.note });
          await keepCell(r, stage, column, true);
        };
        return (
          <div key={column} class="sx-two" role="group" aria-label={t("staff.settle.meanwhile_of", { column: columnWord(column) })}>
            <p>
              <b>{memberName(last.by)} {stageTime(last.at_ms, stage.time_zone)}</b>{" "}
              {t("staff.settle.meanwhile", { column: columnWord(column), theirs: theirFigure(r, column, last), mine: draft.text })}
            </p>
            <p class="sx-line">
              <Button kind="quiet" onPress={() => void keepMine()}>{t("staff.settle.keep_mine")}</Button>
              <Button kind="quiet" onPress={() => { setDraft(stage.id, r.rider.id, column, null); goTo(r.rider.id, column); }}>{t("staff.settle.take_theirs")}</Button>
            </p>
          </div>
        );
      })}
    </>
  );
}

function theirFigure(r: RiderRow, column: EditColumn, last: FactEvent): string {
  if (last.kind === "agreed") return litresFigure((last.body as AgreedBody).drunk_l);
  if (last.kind === "weighed" && (column === "before" || column === "after")) return String((last.body as WeighedBody).mass_kg);
  const value = valueOfCell(r.row, column);
  return litresFigure(value ?? factsOfCell(r.events, column).reduce((sum, event) => sum + volumeOf(event), 0));
}

/** A figure that was not taken stays typed; this line says why. */
export function RefusedLine({ r }: ChoiceProps) {
  const said = refused.value;
  if (said === null || said.riderId !== r.rider.id) return null;
  return <p class="sx-issue" role="alert">{said.why}</p>;
}

/** A figure of one's own needs a reason; the chips come when it differs and say what is missing. */
export function ReasonChips({ r, stage, ids }: ChoiceProps & { ids: readonly string[] }) {
  const draft = draftOf(stage.id, r.rider.id, "agreed");
  if (draft === null || draft.text.trim() === "") return null;
  const ready = readiness(r.row, draft);
  if (!ready.can && ready.why !== "reason") {
    return <p class="sx-issue" role="alert">{spoken(`staff.settle.why_not_${ready.why}`, { typed: draft.text })}</p>;
  }
  if (ready.can && ready.reason === "") return null;
  const onKey = (event: KeyboardEvent): void => {
    if (event.key !== "Enter") return;
    event.preventDefault();
    void agreeRow(r, stage, ids);
  };
  return (
    <fieldset class="sx-chips" onKeyDown={onKey}>
      <legend>{t("staff.settle.reason_for", { typed: draft.text.trim(), proposed: litresFigure(r.row.proposedL ?? 0) })}</legend>
      {REASONS.map((reason, i) => (
        <label key={reason} class={draft.reason === reason ? "sx-chip sx-chip-on" : "sx-chip"}>
          <input
            type="radio" name={`reason-${r.rider.id}`} id={i === 0 ? `reason-${r.rider.id}` : undefined} checked={draft.reason === reason}
            onChange={() => setDraft(stage.id, r.rider.id, "agreed", { ...draft, reason })}
          />
          {t(`staff.because.${reason}`)}
        </label>
      ))}
      <label class="sx-field sx-note-field">
        <span>{t("staff.settle.in_words")}</span>
        <input maxLength={400} value={draft.note} onInput={(event) => setDraft(stage.id, r.rider.id, "agreed", { ...draft, note: event.currentTarget.value })} />
      </label>
      <Button kind="quiet" isDisabled={!ready.can} onPress={() => void agreeRow(r, stage, ids)}>{t("staff.settle.agree_on", { l: draft.text.trim() })}</Button>
    </fieldset>
  );
}

/** A settled row opens again only with a reason, which stays in the book. */
export function Reopen({ r, stage }: ChoiceProps) {
  const [reason, setReason] = useState("");
  const id = `reopen-${r.rider.id}`;
  const send = (): void => {
    if (reason.trim() === "") document.getElementById(id)?.focus();
    else void reopen(r.rider.id, stage.id, reason.trim());
  };
  const last = r.standing.at(-1)?.body;
  return (
    <div class="sx-reopen">
      {r.row.agreedReason !== "" && (
        <p class="sx-quiet">{t("staff.settle.reason_was", { reason: t(`staff.because.${r.row.agreedReason as "other"}`) })} {last?.note ?? ""}</p>
      )}
      <label for={id}>{t("staff.settle.reopen_reason")}</label>
      <span class="sx-line">
        <input
          id={id} value={reason} maxLength={400} onInput={(event) => setReason(event.currentTarget.value)}
          onKeyDown={(event) => { if (event.key === "Enter") send(); }}
        />
        <button type="button" class="button button-quiet" onClick={send}>{t("staff.settle.reopen")}</button>
      </span>
    </div>
  );
}
