import { litresFigure, stageTime } from "@/core/display.ts";
import type { Stage } from "@/protocol/records.ts";
import { agree } from "@/ui/screens/staff/acts.ts";
import { canEdit, memberName, riderTitle } from "@/ui/screens/staff/look.ts";
import { draftOf, pasteColumn, readiness, rowInHand, setDraft, type RiderRow } from "@/ui/screens/staff/settle_state.ts";
import { t } from "@/ui/words.ts";

interface CellProps {
  r: RiderRow;
  stage: Stage;
  ids: readonly string[];
  isInHand: boolean;
}

const fieldId = (riderId: string): string => `agreed-${riderId}`;

export function focusAgreed(riderId: string): void {
  requestAnimationFrame(() => document.getElementById(fieldId(riderId))?.focus());
}

function step(ids: readonly string[], from: string, by: number): void {
  const next = ids[ids.indexOf(from) + by];
  if (next === undefined) return;
  rowInHand.value = next;
  focusAgreed(next);
}

/** Agree a row when it can be agreed; the cursor then waits in the next one. */
export async function tryAgree(r: RiderRow, stage: Stage, ids: readonly string[]): Promise<void> {
  const ready = readiness(r.row, draftOf(stage.id, r.rider.id));
  rowInHand.value = r.rider.id;
  if (!ready.can) return;
  await agree(r.rider.id, stage.id, { drunkL: ready.drunkL, proposedL: r.row.proposedL, reason: ready.reason });
  setDraft(stage.id, r.rider.id, null);
  step(ids, r.rider.id, 1);
}

/** The agreed litres: type over the proposal, Enter agrees, arrows change the row, Escape puts the proposal back. */
export function AgreedField({ r, stage, ids, isInHand }: CellProps) {
  const { row, rider } = r;
  if (row.state === "settled" || !canEdit.value) {
    return row.agreedL === null ? <span aria-hidden="true">—</span> : <strong class="sx-figure">{litresFigure(row.agreedL)}</strong>;
  }
  const draft = draftOf(stage.id, rider.id);
  const ready = readiness(row, draft);
  const isOff = draft !== null && !ready.can;
  return (
    <input
      id={fieldId(rider.id)} class="sx-agree-input" inputMode="decimal" autocomplete="off" tabIndex={isInHand ? 0 : -1}
      aria-label={t("staff.settle.agreed_of", { rider: riderTitle(rider) })} aria-invalid={isOff}
      value={draft?.text ?? ""} placeholder={row.proposedL === null ? "" : litresFigure(row.proposedL)}
      onFocus={(event) => { rowInHand.value = rider.id; event.currentTarget.select(); }}
      onInput={(event) => {
        const text = event.currentTarget.value;
        setDraft(stage.id, rider.id, text === "" ? null : { text, reason: draft?.reason ?? "" });
      }}
      onPaste={(event) => {
        if (pasteColumn(stage.id, ids, rider.id, event.clipboardData?.getData("text/plain") ?? "")) event.preventDefault();
      }}
      onKeyDown={(event) => {
        if (event.key === "Enter") void tryAgree(r, stage, ids);
        else if (event.key === "Escape") setDraft(stage.id, rider.id, null);
        else if (event.key === "ArrowDown") step(ids, rider.id, 1);
        else if (event.key === "ArrowUp") step(ids, rider.id, -1);
        else return;
        event.preventDefault();
      }}
    />
  );
}

export function stateText(r: RiderRow, stage: Stage): string {
  const { row } = r;
  if (row.state === "settled") {
    const by = memberName(row.agreedBy);
    return row.agreedAtMs === null
      ? t("staff.settle.settled_by", { by })
      : t("staff.settle.settled_at", { by, time: stageTime(row.agreedAtMs, stage.time_zone) });
  }
  if (row.missing !== null) return t(`staff.settle.missing_${row.missing}`);
  return row.state === "proposed" ? t("staff.settle.proposed") : t("staff.settle.open");
}

export function StateCell({ r, stage, ids, isInHand }: CellProps) {
  const ready = readiness(r.row, draftOf(stage.id, r.rider.id));
  return (
    <div class="sx-state">
      <span class={`sx-state-word sx-state-${r.row.state}`}>{stateText(r, stage)}</span>
      {canEdit.value && r.row.state !== "settled" && (
        <button
          type="button" class={isInHand && ready.can ? "button button-quiet button-act" : "button button-quiet"} tabIndex={isInHand ? 0 : -1}
          onClick={() => void tryAgree(r, stage, ids)}
        >
          {t("staff.settle.agree")}<span class="hidden"> {riderTitle(r.rider)}</span>
        </button>
      )}
    </div>
  );
}
