import { useLayoutEffect, useRef } from "preact/hooks";

import { decimal, litresFigure } from "@/core/display.ts";
import { isTyped } from "@/core/grid.ts";
import type { Figure, SettleRow } from "@/core/settle.ts";
import type { EditColumn } from "@/core/settle_edit.ts";
import type { EvidenceKind, Stage } from "@/protocol/records.ts";
import { Evidence } from "@/ui/parts/evidence.tsx";
import { canEdit, riderTitle } from "@/ui/screens/staff/look.ts";
import {
  agreeRow, cancelEdit, cellId, columnWord, goTo, isEdited, keepCell, mayType, onGridKey, pasteBlock, startEdit, step, typeOn,
} from "@/ui/screens/staff/settle_acts.ts";
import { StateCell } from "@/ui/screens/staff/settle_cells.tsx";
import { LaneBalance } from "@/ui/screens/staff/settle_lane.tsx";
import { presentAt } from "@/ui/screens/staff/presence.ts";
import {
  COLUMNS, cursor, draftOf, editing, refused, setDraft, valueOfCell, type Column, type RiderRow,
} from "@/ui/screens/staff/settle_state.ts";
import { t } from "@/ui/words.ts";

interface GridProps {
  rows: readonly RiderRow[];
  stage: Stage;
}

/** The evening table: one Tab stop, arrows between cells, Enter or F2 or a digit to type, a block pastes in. */
export function SettleGrid({ rows, stage }: GridProps) {
  const ids = rows.map((r) => r.rider.id);
  return (
    <div class="sx-scroll" role="region" aria-label={t("staff.settle.table")}>
      <table
        class="sx-table sx-evening" role={canEdit.value ? "grid" : undefined} aria-describedby={canEdit.value ? "settle-keys" : undefined}
        onPaste={(event) => {
          if (editing.value !== null && !(event.clipboardData?.getData("text/plain") ?? "").includes("\n")) return;
          if (pasteBlock(event.clipboardData?.getData("text/plain") ?? "", rows, stage) > 0) {
            editing.value = null;
            event.preventDefault();
          }
        }}
      >
        <caption class="hidden">{t("staff.settle.caption")}</caption>
        <GridHead />
        <tbody>{rows.map((r, i) => <GridRow key={r.rider.id} r={r} stage={stage} ids={ids} isFirst={i === 0} />)}</tbody>
      </table>
    </div>
  );
}

const RAW_HEADS = ["before", "after", "food", "void", "up", "back", "poured", "lost", "noted"] as const;

function GridHead() {
  return (
    <thead>
      <tr>
        <th rowSpan={2} scope="col">{t("staff.rider")}</th>
        <th colSpan={4} scope="colgroup">{t("staff.settle.scales_kg")}</th>
        <th colSpan={5} scope="colgroup">{t("staff.settle.bottles_l")}</th>
        <th rowSpan={2} scope="col" class="sx-num">{t("staff.settle.agreed_l")}</th>
        <th rowSpan={2} scope="col">{t("staff.settle.expected")}</th>
        <th rowSpan={2} scope="col">{t("staff.settle.balance")}</th>
        <th rowSpan={2} scope="col">{t("staff.settle.state")}</th>
      </tr>
      <tr>{RAW_HEADS.map((column) => <th key={column} scope="col" class="sx-num">{t(`staff.settle.${column}`)}</th>)}</tr>
    </thead>
  );
}

interface RowProps {
  r: RiderRow;
  stage: Stage;
  ids: readonly string[];
  isFirst: boolean;
}

function GridRow({ r, stage, ids, isFirst }: RowProps) {
  const isInHand = cursor.value === null ? isFirst : cursor.value.riderId === r.rider.id;
  return (
    <tr class={isInHand ? "sx-row sx-in-hand" : "sx-row"} aria-selected={canEdit.value ? isInHand : undefined}>
      {COLUMNS.map((column) => <GridCell key={column} r={r} stage={stage} ids={ids} column={column} isFirst={isFirst && column === "agreed"} />)}
    </tr>
  );
}

type CellProps = RowProps & { column: Column };

function GridCell({ r, stage, ids, column, isFirst }: CellProps) {
  const at = cursor.value;
  const isHere = at === null ? isFirst : at.riderId === r.rider.id && at.column === column;
  const isEditing = editing.value?.riderId === r.rider.id && editing.value.column === column;
  const others = presentAt(r.rider.id, column);
  const attributes = {
    id: cellId(r.rider.id, column), tabIndex: isHere && !isEditing ? 0 : -1,
    class: [
      column === "rider" || column === "expected" || column === "balance" || column === "state" ? "sx-nowrap" : "sx-num",
      isHere ? "sx-here" : "", others === "" ? "" : "sx-taken", mayType(r, column) ? "sx-types" : "",
    ].filter((name) => name !== "").join(" "),
    ...(others === "" ? {} : { "data-by": others }),
    onFocus: () => { if (!isHere) cursor.value = { riderId: r.rider.id, column }; },
    onClick: () => goTo(r.rider.id, column),
    onDblClick: () => { if (mayType(r, column)) startEdit(r, stage, column, null); },
    onKeyDown: (event: KeyboardEvent) => {
      if (!isEdited(r.rider.id, column)) onCellKey(event, { r, stage, ids, column });
      else if (isTyped(event.key)) {
        event.preventDefault();
        typeOn(r, stage, column as EditColumn, event.key);
      } else onEditKey(event, { r, stage, ids, column: column as EditColumn });
    },
  };
  const inside = isEditing ? <CellInput r={r} stage={stage} ids={ids} column={column as EditColumn} /> : <CellContent r={r} stage={stage} ids={ids} column={column} />;
  return column === "rider" ? <th scope="row" {...attributes}>{inside}</th> : <td {...attributes}>{inside}</td>;
}

function onCellKey(event: KeyboardEvent, { r, stage, ids, column }: Omit<CellProps, "isFirst">): void {
  if (onGridKey(event, ids)) event.preventDefault();
  else if (column === "state" && (event.key === "Enter" || event.key === " ")) {
    event.preventDefault();
    if (r.row.state === "settled") document.getElementById(`reopen-${r.rider.id}`)?.focus();
    else void agreeRow(r, stage, ids);
  } else if (mayType(r, column) && !event.ctrlKey && !event.metaKey && !event.altKey) {
    onTypingKey(event, r, stage, column);
  }
}

function onTypingKey(event: KeyboardEvent, r: RiderRow, stage: Stage, column: EditColumn): void {
  if (event.key === "Enter" || event.key === "F2") startEdit(r, stage, column, null);
  else if (event.key === "Delete" || event.key === "Backspace") setDraft(stage.id, r.rider.id, column, null);
  else if (isTyped(event.key)) startEdit(r, stage, column, event.key);
  else return;
  event.preventDefault();
}

/** A cell while it is typed in: Enter keeps and goes down, Tab keeps and goes right, Escape puts back what was there. */
function CellInput({ r, stage, ids, column }: { r: RiderRow; stage: Stage; ids: readonly string[]; column: EditColumn }) {
  const ref = useRef<HTMLInputElement>(null);
  const draft = draftOf(stage.id, r.rider.id, column);
  const isFresh = draft?.text === "";
  const shown = draft === null ? "" : draft.text;
  useLayoutEffect(() => {
    ref.current?.focus();
    if (isFresh) ref.current?.select();
  }, []);
  return (
    <input
      ref={ref} class="sx-cell-input" inputMode="decimal" autocomplete="off" value={shown} placeholder={placeholder(r.row, column)}
      aria-label={t("staff.settle.cell_of", { column: columnWord(column), rider: riderTitle(r.rider) })}
      onInput={(event) => { if (draft !== null) setDraft(stage.id, r.rider.id, column, { ...draft, text: event.currentTarget.value }); }}
      onBlur={() => { if (editing.value?.riderId === r.rider.id && editing.value.column === column) void blurred(r, stage, column); }}
      onKeyDown={(event) => {
        event.stopPropagation();
        onEditKey(event, { r, stage, ids, column });
      }}
    />
  );
}

function onEditKey(event: KeyboardEvent, { r, stage, ids, column }: Omit<CellProps, "isFirst" | "column"> & { column: EditColumn }): void {
  const by = event.shiftKey ? -1 : 1;
  if (event.key === "Escape") cancelEdit(r, stage, column);
  else if (event.key === "Enter") keepAndGo(r, stage, column, () => step(ids, by));
  else if (event.key === "Tab") keepAndGo(r, stage, column, () => beside(r, column, by));
  else return;
  event.preventDefault();
}

/** The cursor goes on at once, so that the next figure can be typed; what could not be kept stays typed and says so. */
function keepAndGo(r: RiderRow, stage: Stage, column: EditColumn, go: () => void): void {
  const kept = keepCell(r, stage, column);
  if (column === "agreed") {
    goTo(r.rider.id, column);
    void kept.then((isKept) => { if (isKept) go(); else document.getElementById(`reason-${r.rider.id}`)?.focus(); });
  } else go();
}

/** Leaving the cell keeps a raw figure; an agreed one waits, for it is a word given and not a slip of the mouse. */
async function blurred(r: RiderRow, stage: Stage, column: EditColumn): Promise<void> {
  const draft = draftOf(stage.id, r.rider.id, column);
  if (column !== "agreed") {
    await keepCell(r, stage, column);
    return;
  }
  editing.value = null;
  if (draft?.text.trim() === "") setDraft(stage.id, r.rider.id, column, null);
}

function beside(r: RiderRow, column: Column, by: number): void {
  goTo(r.rider.id, COLUMNS[COLUMNS.indexOf(column) + by] ?? column);
}

export function placeholder(row: SettleRow, column: EditColumn): string {
  if (column === "agreed") return row.proposedL === null ? "" : litresFigure(row.proposedL);
  const value = valueOfCell(row, column);
  return value === null ? "" : shownFigure(value, column);
}

const shownFigure = (value: number, column: EditColumn): string =>
  column === "before" || column === "after" || column === "food" || column === "void" ? decimal(value, 1) : litresFigure(value);

function CellContent({ r, stage, ids, column }: Omit<CellProps, "isFirst">) {
  const { row, rider } = r;
  switch (column) {
    case "rider": return <span class="sx-row-title"><span class="sx-no">{rider.race_number}</span> {rider.name}</span>;
    case "expected": return <>{expectedText(row)}</>;
    case "balance": return <LaneBalance row={row} stage={stage} />;
    case "state": return <StateCell r={r} stage={stage} ids={ids} />;
    default: return <FigureCell r={r} stage={stage} column={column} />;
  }
}

/** Typed and not kept yet stands between double rules; kept stands plain, with how it is known behind it. */
export function FigureCell({ r, stage, column }: { r: RiderRow; stage: Stage; column: EditColumn }) {
  const draft = draftOf(stage.id, r.rider.id, column);
  if (draft !== null && draft.text.trim() !== "") {
    const isOff = refused.value?.riderId === r.rider.id && refused.value.column === column;
    return <span class={isOff ? "sx-typed sx-typed-off" : "sx-typed"}>{draft.text}<span class="hidden"> {t("staff.settle.not_kept")}</span></span>;
  }
  if (column === "agreed") return <AgreedFigure row={r.row} />;
  const value = valueOfCell(r.row, column);
  if (value === null) return <Missing />;
  return <>{shownFigure(value, column)}<Evidence kind={evidenceOf(r.row, column)} /></>;
}

function AgreedFigure({ row }: { row: SettleRow }) {
  if (row.agreedL !== null) return <strong class="sx-figure">{litresFigure(row.agreedL)}</strong>;
  if (row.proposedL === null) return <Missing />;
  if (row.range !== null) {
    const [low, high] = [litresFigure(row.range[0]), litresFigure(row.range[1])];
    return <span class="sx-proposed"><span class="hidden">{t("staff.settle.maybe_twice")} </span>{low}–{high}</span>;
  }
  return <span class="sx-proposed"><span class="hidden">{t("staff.settle.proposed")} </span>{litresFigure(row.proposedL)}</span>;
}

function evidenceOf(row: SettleRow, column: Exclude<EditColumn, "agreed">): EvidenceKind | null {
  if (column === "before" || column === "after") return "weighed";
  return column === "food" || column === "void" ? null : (row[column] as Figure).evidence;
}

/** The sweat loss the forecast expected, as a range and never a lone figure. */
export function expectedText(row: SettleRow): string {
  if (row.expectedLowL === null || row.expectedHighL === null) return "—";
  return t("staff.range_l", { low: decimal(row.expectedLowL, 1), high: decimal(row.expectedHighL, 1) });
}

function Missing() {
  return <span class="sx-missing"><span aria-hidden="true">—</span><span class="hidden">{t("staff.not_noted")}</span></span>;
}
