/** What the hands do in the Settle table: move, edit, keep, agree, paste. Each keeps facts and never a figure in place. */

import { keyLeads, pastedBlock } from "@/core/grid.ts";
import { CELL_RULES, editFor, likelyDrink, RAW_COLUMNS, type EditColumn, type NewFact, type RawColumn } from "@/core/settle_edit.ts";
import { checked } from "@/core/sweat_day.ts";
import type { Stage, StagePlan } from "@/protocol/records.ts";
import { append, takeBack } from "@/store/commands.ts";
import { doc, docsOf } from "@/store/state.ts";
import { agree } from "@/ui/screens/staff/acts.ts";
import { canEdit } from "@/ui/screens/staff/look.ts";
import { issueSentence } from "@/ui/screens/staff/parts.tsx";
import {
  COLUMNS, cursor, draftOf, editing, isEditable, newDraft, readiness, refused, rowOf, setDraft, unseenFacts, type Column, type RiderRow,
} from "@/ui/screens/staff/settle_state.ts";
import { t } from "@/ui/words.ts";

export const cellId = (riderId: string, column: Column): string => `cell-${riderId}-${column}`;

/** Put the cursor on a cell, and the focus with it. */
export function goTo(riderId: string, column: Column): void {
  cursor.value = { riderId, column };
  // At once: a key that follows faster than the next frame must find the new cell.
  document.getElementById(cellId(riderId, column))?.focus();
}

export function step(ids: readonly string[], by: number): void {
  const at = cursor.value;
  if (at === null) return;
  const next = ids[Math.min(ids.length - 1, Math.max(0, ids.indexOf(at.riderId) + by))];
  if (next !== undefined) goTo(next, at.column);
}

/** A key on a cell that is not being edited; true when it was one of the grid's. */
export function onGridKey(event: KeyboardEvent, ids: readonly string[]): boolean {
  const at = cursor.value;
  if (at === null) return false;
  const place = { row: ids.indexOf(at.riderId), column: COLUMNS.indexOf(at.column) };
  const to = event.altKey || event.metaKey ? null
    : keyLeads(place, event.key, event.ctrlKey, { rows: ids.length, columns: COLUMNS.length });
  if (to === null) return false;
  const riderId = ids[to.row];
  const column = COLUMNS[to.column];
  if (riderId !== undefined && column !== undefined) goTo(riderId, column);
  return true;
}

/** A row that is settled is opened again with a reason first; nothing of it is typed over. */
export const mayType = (r: RiderRow, column: Column): column is EditColumn =>
  canEdit.value && isEditable(column) && r.row.state !== "settled";

export function startEdit(r: RiderRow, stage: Stage, column: EditColumn, text: string | null): void {
  if (!mayType(r, column)) return;
  const known = draftOf(stage.id, r.rider.id, column);
  if (text !== null || known === null) setDraft(stage.id, r.rider.id, column, newDraft(r, column, text ?? ""));
  cursor.value = { riderId: r.rider.id, column };
  editing.value = { riderId: r.rider.id, column };
}

export const isEdited = (riderId: string, column: Column): boolean =>
  editing.peek()?.riderId === riderId && editing.peek()?.column === column;

/** A key typed faster than the field came up goes into the figure all the same. */
export function typeOn(r: RiderRow, stage: Stage, column: EditColumn, sign: string): void {
  const draft = draftOf(stage.id, r.rider.id, column) ?? newDraft(r, column, "");
  setDraft(stage.id, r.rider.id, column, { ...draft, text: draft.text + sign });
}

export function cancelEdit(r: RiderRow, stage: Stage, column: EditColumn): void {
  editing.value = null;
  refused.value = null;
  setDraft(stage.id, r.rider.id, column, null);
  goTo(r.rider.id, column);
}

/** Keep what is typed in a cell. False when it cannot be kept yet; it then stays typed, with the reason said. */
export async function keepCell(r: RiderRow, stage: Stage, column: EditColumn, isSure = false): Promise<boolean> {
  editing.value = null;
  const draft = draftOf(stage.id, r.rider.id, column);
  if (draft === null) return true;
  if (draft.text.trim() === "" && column !== "agreed") {
    setDraft(stage.id, r.rider.id, column, null);
    return true;
  }
  const kept = line.then(() => {
    // Read again: what was kept just before, a mass or a bottle, is what this figure stands on.
    const latest = rowOf(r.rider, stage);
    if (!isSure && unseenFacts(latest, column, draft).length > 0) return false;
    return column === "agreed" ? keepAgreed(latest, stage) : keepRaw(latest, stage, column);
  });
  line = kept.catch(() => false);
  return kept;
}

/** Figures are kept one after the other, however fast they are typed. */
let line: Promise<unknown> = Promise.resolve();

async function keepAgreed(r: RiderRow, stage: Stage): Promise<boolean> {
  const ready = readiness(r.row, draftOf(stage.id, r.rider.id, "agreed"));
  if (!ready.can) return false;
  await agree(r.rider.id, stage.id, {
    drunkL: ready.drunkL, proposedL: r.row.proposedL, reason: ready.reason, note: ready.note, over: r.standing.map((one) => one.id),
  });
  setDraft(stage.id, r.rider.id, "agreed", null);
  return true;
}

async function keepRaw(r: RiderRow, stage: Stage, column: RawColumn): Promise<boolean> {
  const draft = draftOf(stage.id, r.rider.id, column);
  const { value, issue } = checked(draft?.text ?? "", CELL_RULES[column]);
  if (value === null) return refuse(r, column, issueSentence(issue ?? "empty", draft?.text ?? "", columnWord(column), CELL_RULES[column]));
  const drink = likelyDrink(r.events, doc<StagePlan>(`stage_plan:${r.rider.id}:${stage.id}`), docsOf("drink"));
  const edit = editFor(column, value, r.events, drink);
  if (typeof edit === "string") return refuse(r, column, t(`staff.settle.refused_${edit}`));
  for (const fact of edit.takeBack) await takeBack(fact);
  for (const fact of edit.add) await addFact(r.rider.id, stage.id, fact);
  setDraft(stage.id, r.rider.id, column, null);
  refused.value = null;
  return true;
}

function refuse(r: RiderRow, column: EditColumn, why: string): false {
  refused.value = { riderId: r.rider.id, column, why };
  return false;
}

export async function addFact(riderId: string, stageId: string, fact: NewFact): Promise<void> {
  await append(fact.kind, riderId, fact.body, { stageId });
}

export function columnWord(column: EditColumn): string {
  return column === "agreed" ? t("staff.settle.agreed_l") : t(`staff.settle.column_${column}`);
}

/** Agree a row when it can be agreed; the cursor then waits in the next open one. */
export async function agreeRow(r: RiderRow, stage: Stage, ids: readonly string[]): Promise<void> {
  const draft = draftOf(stage.id, r.rider.id, "agreed");
  if (draft === null) setDraft(stage.id, r.rider.id, "agreed", newDraft(r, "agreed", ""));
  const isKept = await keepCell(r, stage, "agreed");
  if (isKept && cursor.value?.riderId === r.rider.id) step(ids, 1);
  else if (!isKept) cursor.value = { riderId: r.rider.id, column: "agreed" };
}

/** Agree every row whose proposal nothing speaks against; return how many. */
export async function agreeAll(rows: readonly RiderRow[], stage: Stage): Promise<number> {
  let n = 0;
  for (const r of rows) {
    setDraft(stage.id, r.rider.id, "agreed", newDraft(r, "agreed", ""));
    if (await keepCell(r, stage, "agreed")) n += 1;
  }
  return n;
}

/** Spread a pasted block from the cell in hand to the right and down; it waits as typed figures until it is kept. */
export function pasteBlock(text: string, rows: readonly RiderRow[], stage: Stage): number {
  const at = cursor.value;
  if (at === null) return 0;
  const [fromRow, fromColumn] = [rows.findIndex((r) => r.rider.id === at.riderId), COLUMNS.indexOf(at.column)];
  let n = 0;
  pastedBlock(text).forEach((cells, i) => {
    cells.forEach((cell, k) => {
      const r = rows[fromRow + i];
      const column = COLUMNS[fromColumn + k];
      if (r === undefined || column === undefined || cell === "" || !mayType(r, column)) return;
      setDraft(stage.id, r.rider.id, column, newDraft(r, column, cell));
      n += 1;
    });
  });
  return n;
}

/** Drafts of this stage in the order of the table. */
export function typedCells(rows: readonly RiderRow[], stage: Stage): { r: RiderRow; column: EditColumn }[] {
  const columns: readonly EditColumn[] = [...RAW_COLUMNS, "agreed"];
  return rows.flatMap((r) => columns.filter((column) => draftOf(stage.id, r.rider.id, column) !== null).map((column) => ({ r, column })));
}
