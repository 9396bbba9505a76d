/** What the Settle table holds while somebody types: drafts, the row in hand, and the rows themselves. */

import { signal } from "@preact/signals";

import { parseNumber } from "@/core/display.ts";
import { needsReason, settleRow, stageFacts, type SettleRow } from "@/core/settle.ts";
import type { AgreedBody, Rider, Settlement, Stage, StageForecast } from "@/protocol/records.ts";
import { doc, folded } from "@/store/state.ts";

export type AgreeReason = NonNullable<AgreedBody["reason"]>;
export const REASONS = ["missed_bottle", "scale_fault", "ate_or_voided", "clothing", "other"] as const satisfies AgreeReason[];

export interface Draft {
  text: string;
  reason: AgreeReason;
}

export interface RiderRow {
  rider: Rider;
  raceNumber: number;
  row: SettleRow;
  settlement: Settlement | null;
}

const drafts = signal<ReadonlyMap<string, Draft>>(new Map());
export const rowInHand = signal<string | null>(null);

export function rowOf(rider: Rider, stage: Stage): RiderRow {
  const facts = stageFacts(folded.value.live.values(), rider.id, stage.id);
  const settlement = doc<Settlement>(`settlement:${rider.id}:${stage.id}`);
  const row = withForecast(settleRow(rider.id, facts, settlement), doc<StageForecast>(`stage_forecast:${rider.id}:${stage.id}`));
  return { rider, raceNumber: rider.race_number, row, settlement };
}

/** Before a settlement names the loss it was compared with, the forecast of the day stands in. */
function withForecast(row: SettleRow, forecast: StageForecast | null): SettleRow {
  if (forecast === null || row.expectedLowL !== null) return row;
  return { ...row, expectedLowL: forecast.sweat_q10_l, expectedHighL: forecast.sweat_q90_l };
}

export function draftOf(stageId: string, riderId: string): Draft | null {
  return drafts.value.get(`${stageId}:${riderId}`) ?? null;
}

export function setDraft(stageId: string, riderId: string, draft: Draft | null): void {
  const next = new Map(drafts.value);
  if (draft === null) next.delete(`${stageId}:${riderId}`);
  else next.set(`${stageId}:${riderId}`, draft);
  drafts.value = next;
}

export type Ready =
  | { can: true; drunkL: number; reason: AgreeReason }
  | { can: false; why: "nothing" | "not_a_number" | "out_of_range" | "reason" };

const MOST_L = 20;

/** Whether a row can be agreed as it stands: the typed figure, or the proposed one when nothing is typed. */
export function readiness(row: SettleRow, draft: Draft | null): Ready {
  const text = draft?.text.trim() ?? "";
  if (text === "") {
    return row.proposedL === null ? { can: false, why: "nothing" } : { can: true, drunkL: row.proposedL, reason: "" };
  }
  const typedL = parseNumber(text);
  if (typedL === null) return { can: false, why: "not_a_number" };
  if (typedL < 0 || typedL > MOST_L) return { can: false, why: "out_of_range" };
  if (!needsReason(typedL, row.proposedL)) return { can: true, drunkL: typedL, reason: "" };
  return draft === null || draft.reason === "" ? { can: false, why: "reason" } : { can: true, drunkL: typedL, reason: draft.reason };
}

/** A pasted column fills rows downwards from the one it was pasted into. */
export function pasteColumn(stageId: string, riderIds: readonly string[], from: string, text: string): boolean {
  const lines = text.split(/\r?\n/).map((line) => line.trim());
  while (lines.at(-1) === "") lines.pop();
  if (lines.length < 2) return false;
  const start = riderIds.indexOf(from);
  lines.forEach((line, i) => {
    const riderId = riderIds[start + i];
    if (riderId !== undefined && line !== "") setDraft(stageId, riderId, { text: line, reason: "" });
  });
  return true;
}
