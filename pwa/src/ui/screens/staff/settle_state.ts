/** What the Settle table holds while somebody types: the cell in hand, drafts, and the rows themselves. */

import { computed, signal } from "@preact/signals";

import { rivals, standingAgreed } from "@/core/agreement.ts";
import { parseNumber } from "@/core/display.ts";
import { needsReason, rangeOf, settleRow, stageFacts, type SettleRow } from "@/core/settle.ts";
import { CELL_RULES, factsOfCell, RAW_COLUMNS, type EditColumn } from "@/core/settle_edit.ts";
import { checked } from "@/core/sweat_day.ts";
import { twinsOf } from "@/core/twins.ts";
import type { AgreedBody, FactEvent, Rider, Settlement, Stage, StageForecast } from "@/protocol/records.ts";
import { doc, events, folded, session } from "@/store/state.ts";

export type AgreeReason = NonNullable<AgreedBody["reason"]>;
export const REASONS = ["missed_bottle", "scale_fault", "ate_or_voided", "clothing", "other"] as const satisfies AgreeReason[];
export const COLUMNS = ["rider", ...RAW_COLUMNS, "agreed", "expected", "balance", "state"] as const;
export type Column = (typeof COLUMNS)[number];

const EDITABLE: ReadonlySet<string> = new Set([...RAW_COLUMNS, "agreed"]);
export const isEditable = (column: Column): column is EditColumn => EDITABLE.has(column);

/** A typed figure not kept yet. `seen` are the facts its author had before his eyes when he began. */
export interface Draft {
  text: string;
  reason: AgreeReason;
  note: string;
  seen: readonly string[];
}

export interface RiderRow {
  rider: Rider;
  raceNumber: number;
  row: SettleRow;
  settlement: Settlement | null;
  events: readonly FactEvent[];
  standing: readonly FactEvent<AgreedBody>[];
  rivals: readonly FactEvent<AgreedBody>[];
}

export const drafts = signal<ReadonlyMap<string, Draft>>(new Map());
export const cursor = signal<{ riderId: string; column: Column } | null>(null);
export const editing = signal<{ riderId: string; column: EditColumn } | null>(null);
/** The cell whose last commit was refused, with why; said under the table. */
export const refused = signal<{ riderId: string; column: EditColumn; why: string } | null>(null);

const key = (stageId: string, riderId: string, column: EditColumn): string => `${stageId} ${riderId} ${column}`;

/** Live facts by rider of one stage: one pass over the log, however many cells ask. */
const eventsByStage = computed(() => {
  const found = new Map<string, FactEvent[]>();
  for (const event of folded.value.live.values()) {
    const at = `${event.stage_id ?? ""} ${event.subject_id}`;
    const known = found.get(at);
    if (known === undefined) found.set(at, [event]);
    else known.push(event);
  }
  return found;
});

/** The lesser known of each pair of notes that may be one bottle. */
const lesserTwins = computed(() => new Set(twinsOf(folded.value, events.value.values()).map(({ other }) => other.id)));

function serverRange(settlement: Settlement | null): SettleRow["range"] {
  const { drunk_low_l: low, drunk_high_l: high } = settlement ?? {};
  return typeof low === "number" && typeof high === "number" && low !== high ? [low, high] : null;
}

export const eventsOf = (riderId: string, stageId: string): readonly FactEvent[] => eventsByStage.value.get(`${stageId} ${riderId}`) ?? [];

export function rowOf(rider: Rider, stage: Stage): RiderRow {
  const mine = eventsOf(rider.id, stage.id);
  const settlement = doc<Settlement>(`settlement:${rider.id}:${stage.id}`);
  const own = rangeOf(mine, lesserTwins.value, rider.id, stage.id);
  const bare = settleRow(rider.id, stageFacts(mine, rider.id, stage.id), settlement, own === null ? null : serverRange(settlement) ?? own);
  const standing = standingAgreed(mine, rider.id, stage.id);
  return {
    rider, raceNumber: rider.race_number, settlement, events: mine, standing, rivals: rivals(standing),
    row: withForecast(bare, doc<StageForecast>(`stage_forecast:${rider.id}:${stage.id}`)),
  };
}

/** Before a settlement names the loss it was compared with, the forecast of the day stands in. */
function withForecast(row: SettleRow, forecast: StageForecast | null): SettleRow {
  if (forecast === null || row.expectedLowL !== null) return row;
  return { ...row, expectedLowL: forecast.sweat_q10_l, expectedHighL: forecast.sweat_q90_l };
}

export function draftOf(stageId: string, riderId: string, column: EditColumn): Draft | null {
  return drafts.value.get(key(stageId, riderId, column)) ?? null;
}

export function setDraft(stageId: string, riderId: string, column: EditColumn, draft: Draft | null): void {
  const next = new Map(drafts.value);
  if (draft === null) next.delete(key(stageId, riderId, column));
  else next.set(key(stageId, riderId, column), draft);
  drafts.value = next;
}

export function newDraft(r: RiderRow, column: EditColumn, text: string): Draft {
  return { text, reason: "", note: "", seen: factsOfCell(r.events, column).map((event) => event.id) };
}

/** The facts somebody else added to a cell since its draft was begun. */
export function unseenFacts(r: RiderRow, column: EditColumn, draft: Draft): FactEvent[] {
  const me = session.value?.member.id ?? "";
  const seen = new Set(draft.seen);
  return factsOfCell(r.events, column).filter((event) => !seen.has(event.id) && event.by !== me);
}

export function valueOfCell(row: SettleRow, column: EditColumn): number | null {
  switch (column) {
    case "before": return row.massBeforeKg;
    case "after": return row.massAfterKg;
    case "food": return row.massAfterKg === null ? null : row.foodKg;
    case "void": return row.massAfterKg === null ? null : row.voidL;
    case "agreed": return row.agreedL;
    default: return row[column].value;
  }
}

export type Ready =
  | { can: true; drunkL: number; reason: AgreeReason; note: string }
  | { can: false; why: "nothing" | "not_a_number" | "out_of_range" | "reason" };

/** Whether a row can be agreed as it stands: the typed figure, or the proposed one when nothing is typed. */
export function readiness(row: SettleRow, draft: Draft | null): Ready {
  const text = draft?.text.trim() ?? "";
  if (text === "") {
    return row.proposedL === null ? { can: false, why: "nothing" } : { can: true, drunkL: row.proposedL, reason: "", note: "" };
  }
  if (parseNumber(text) === null) return { can: false, why: "not_a_number" };
  const typedL = checked(text, CELL_RULES.agreed).value;
  if (typedL === null) return { can: false, why: "out_of_range" };
  const note = draft?.note ?? "";
  if (!needsReason(typedL, row.proposedL)) return { can: true, drunkL: typedL, reason: "", note };
  const reason = draft?.reason ?? "";
  return reason === "" ? { can: false, why: "reason" } : { can: true, drunkL: typedL, reason, note };
}
