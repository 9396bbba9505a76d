import { useEffect, useRef } from "preact/hooks";

import type { EditColumn } from "@/core/settle_edit.ts";
import type { Stage } from "@/protocol/records.ts";
import { riderTitle } from "@/ui/screens/staff/look.ts";
import { columnWord, keepCell, mayType, startEdit } from "@/ui/screens/staff/settle_acts.ts";
import { StateCell } from "@/ui/screens/staff/settle_cells.tsx";
import { SettleDetail } from "@/ui/screens/staff/settle_detail.tsx";
import { expectedText, FigureCell, placeholder } from "@/ui/screens/staff/settle_grid.tsx";
import { LaneBalance } from "@/ui/screens/staff/settle_lane.tsx";
import { cursor, draftOf, editing, setDraft, type RiderRow } from "@/ui/screens/staff/settle_state.ts";
import { t } from "@/ui/words.ts";

/** The same table on a phone: one rider on one card; tap a figure to type over it. */
export function SettleCards({ rows, stage }: { rows: readonly RiderRow[]; stage: Stage }) {
  const ids = rows.map((r) => r.rider.id);
  return <ol class="sx-cards">{rows.map((r) => <SettleCard key={r.rider.id} r={r} stage={stage} ids={ids} />)}</ol>;
}

const BOTTLES = ["up", "back", "poured", "lost", "noted"] as const;
const SCALES = ["before", "after", "food", "void"] as const;

function SettleCard({ r, stage, ids }: { r: RiderRow; stage: Stage; ids: readonly string[] }) {
  const { row, rider } = r;
  const isOpen = cursor.value?.riderId === rider.id;
  return (
    <li class="sx-card">
      <div class="sx-card-head">
        <h2><span class="sx-no">{rider.race_number}</span> {rider.name}</h2>
        <LaneBalance row={row} stage={stage} />
      </div>
      <dl class="sx-five">{BOTTLES.map((column) => <Figure key={column} r={r} stage={stage} column={column} name={t(`staff.settle.${column}`)} />)}</dl>
      <dl class="sx-five">
        {SCALES.map((column) => <Figure key={column} r={r} stage={stage} column={column} name={t(`staff.settle.${column}`)} />)}
        <div><dt>{t("staff.settle.expected_short")}</dt><dd>{expectedText(row)}</dd></div>
      </dl>
      <div class="sx-card-agree">
        <dl><Figure r={r} stage={stage} column="agreed" name={t("staff.settle.agreed_l")} /></dl>
        <StateCell r={r} stage={stage} ids={ids} />
      </div>
      <button
        type="button" class="button button-quiet sx-wide" aria-expanded={isOpen}
        onClick={() => { cursor.value = isOpen ? null : { riderId: rider.id, column: "agreed" }; }}
      >
        {isOpen ? t("staff.settle.less") : t("staff.settle.more")}<span class="hidden"> {riderTitle(rider)}</span>
      </button>
      {isOpen && <SettleDetail r={r} stage={stage} ids={ids} />}
    </li>
  );
}

interface FigureProps {
  r: RiderRow;
  stage: Stage;
  column: EditColumn;
  name: string;
}

function Figure({ r, stage, column, name }: FigureProps) {
  const isEditing = editing.value?.riderId === r.rider.id && editing.value.column === column;
  const inside = isEditing ? <CardInput r={r} stage={stage} column={column} /> : !mayType(r, column) ? <FigureCell r={r} stage={stage} column={column} /> : (
    <button
      type="button" class="sx-tap" onClick={() => startEdit(r, stage, column, null)}
      aria-label={t("staff.settle.change", { column: columnWord(column), rider: riderTitle(r.rider), value: draftOf(stage.id, r.rider.id, column)?.text || placeholder(r.row, column) || t("staff.not_noted") })}
    >
      <FigureCell r={r} stage={stage} column={column} />
    </button>
  );
  return <div><dt>{name}</dt><dd>{inside}</dd></div>;
}

function CardInput({ r, stage, column }: Omit<FigureProps, "name">) {
  const ref = useRef<HTMLInputElement>(null);
  const draft = draftOf(stage.id, r.rider.id, column);
  useEffect(() => ref.current?.focus(), []);
  return (
    <input
      ref={ref} class="sx-cell-input" inputMode="decimal" autocomplete="off" value={draft?.text ?? ""} placeholder={placeholder(r.row, column)}
      aria-label={t("staff.settle.cell_of", { column: columnWord(column), rider: riderTitle(r.rider) })}
      onInput={(event) => { if (draft !== null) setDraft(stage.id, r.rider.id, column, { ...draft, text: event.currentTarget.value }); }}
      onBlur={() => { if (column === "agreed") editing.value = null; else void keepCell(r, stage, column); }}
      onKeyDown={(event) => {
        if (event.key === "Escape") { setDraft(stage.id, r.rider.id, column, null); editing.value = null; }
        else if (event.key === "Enter") void keepCell(r, stage, column);
      }}
    />
  );
}
