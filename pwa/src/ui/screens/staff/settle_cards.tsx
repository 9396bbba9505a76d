import { decimal, litresFigure } from "@/core/display.ts";
import type { Figure } from "@/core/settle.ts";
import type { Stage } from "@/protocol/records.ts";
import { canEdit } from "@/ui/screens/staff/look.ts";
import { Evidence } from "@/ui/parts/evidence.tsx";
import { AgreedField, StateCell } from "@/ui/screens/staff/settle_cells.tsx";
import { SettleDetail } from "@/ui/screens/staff/settle_detail.tsx";
import { LaneBalance } from "@/ui/screens/staff/settle_lane.tsx";
import { expectedText } from "@/ui/screens/staff/settle_table.tsx";
import { rowInHand, type RiderRow } from "@/ui/screens/staff/settle_state.ts";
import { t } from "@/ui/words.ts";

/** The same table on a phone: one rider on one card, the agreed figure and its button always in view. */
export function SettleCards({ rows, stage }: { rows: readonly RiderRow[]; stage: Stage }) {
  const ids = rows.map((r) => r.rider.id);
  return (
    <ol class="sx-cards">
      {rows.map((r) => <SettleCard key={r.rider.id} r={r} stage={stage} ids={ids} />)}
    </ol>
  );
}

function SettleCard({ r, stage, ids }: { r: RiderRow; stage: Stage; ids: readonly string[] }) {
  const { row, rider } = r;
  const isOpen = rowInHand.value === rider.id;
  return (
    <li class="sx-card">
      <div class="sx-card-head">
        <h2><span class="sx-no">{rider.race_number}</span> {rider.name}</h2>
        <LaneBalance row={row} stage={stage} />
      </div>
      <dl class="sx-five">
        <Cell name={t("staff.settle.up")} figure={row.up} />
        <Cell name={t("staff.settle.back")} figure={row.back} />
        <Cell name={t("staff.settle.poured")} figure={row.poured} />
        <Cell name={t("staff.settle.lost")} figure={row.lost} />
        <Cell name={t("staff.settle.noted")} figure={row.noted} />
      </dl>
      <dl class="sx-five">
        <Plain name={t("staff.settle.before")} text={kg(row.massBeforeKg)} />
        <Plain name={t("staff.settle.after")} text={kg(row.massAfterKg)} />
        <Plain name={t("staff.settle.food")} text={row.massAfterKg === null ? "—" : decimal(row.foodKg, 1)} />
        <Plain name={t("staff.settle.void")} text={row.massAfterKg === null ? "—" : decimal(row.voidL, 1)} />
        <Plain name={t("staff.settle.expected_short")} text={expectedText(row)} />
      </dl>
      <div class="sx-card-agree">
        <span class="sx-card-label">{t("staff.settle.agreed_l")}</span>
        <AgreedField r={r} stage={stage} ids={ids} isInHand />
        <StateCell r={r} stage={stage} ids={ids} isInHand />
      </div>
      <button
        type="button" class="button button-quiet sx-wide" aria-expanded={isOpen}
        onClick={() => { rowInHand.value = isOpen ? null : rider.id; }}
      >
        {isOpen ? t("staff.settle.less") : t("staff.settle.more")}
      </button>
      {isOpen && <SettleDetail r={r} stage={stage} isReadOnly={!canEdit.value} />}
    </li>
  );
}

const kg = (value: number | null): string => (value === null ? "—" : decimal(value, 1));

function Cell({ name, figure }: { name: string; figure: Figure }) {
  return (
    <div>
      <dt>{name}</dt>
      <dd>{figure.value === null ? "—" : <>{litresFigure(figure.value)}<Evidence kind={figure.evidence} /></>}</dd>
    </div>
  );
}

function Plain({ name, text }: { name: string; text: string }) {
  return <div><dt>{name}</dt><dd>{text}</dd></div>;
}
