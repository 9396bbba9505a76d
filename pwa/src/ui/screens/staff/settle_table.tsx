import { decimal, litresFigure } from "@/core/display.ts";
import type { Figure, SettleRow } from "@/core/settle.ts";
import type { Stage } from "@/protocol/records.ts";
import { canEdit } from "@/ui/screens/staff/look.ts";
import { Evidence } from "@/ui/parts/evidence.tsx";
import { AgreedField, focusAgreed, StateCell } from "@/ui/screens/staff/settle_cells.tsx";
import { SettleDetail } from "@/ui/screens/staff/settle_detail.tsx";
import { LaneBalance } from "@/ui/screens/staff/settle_lane.tsx";
import { rowInHand, type RiderRow } from "@/ui/screens/staff/settle_state.ts";
import { t } from "@/ui/words.ts";

interface TableProps {
  rows: readonly RiderRow[];
  stage: Stage;
  inHandId: string | null;
}

const COLUMNS = 14;

export function SettleTable({ rows, stage, inHandId }: TableProps) {
  const ids = rows.map((r) => r.rider.id);
  return (
    <div class="sx-scroll" tabIndex={0} role="region" aria-label={t("staff.settle.table")}>
      <table class="sx-table">
        <caption class="hidden">{t("staff.settle.caption")}</caption>
        <TableHead />
        <tbody>
          {rows.map((r) => (
            <RowWithDetail key={r.rider.id} r={r} stage={stage} isInHand={r.rider.id === inHandId} ids={ids} />
          ))}
        </tbody>
      </table>
    </div>
  );
}

function TableHead() {
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
      <tr>
        <th scope="col" class="sx-num">{t("staff.settle.before")}</th>
        <th scope="col" class="sx-num">{t("staff.settle.after")}</th>
        <th scope="col" class="sx-num">{t("staff.settle.food")}</th>
        <th scope="col" class="sx-num">{t("staff.settle.void")}</th>
        <th scope="col" class="sx-num">{t("staff.settle.up")}</th>
        <th scope="col" class="sx-num">{t("staff.settle.back")}</th>
        <th scope="col" class="sx-num">{t("staff.settle.poured")}</th>
        <th scope="col" class="sx-num">{t("staff.settle.lost")}</th>
        <th scope="col" class="sx-num">{t("staff.settle.noted")}</th>
      </tr>
    </thead>
  );
}

function RowWithDetail({ r, stage, isInHand, ids }: { r: RiderRow; stage: Stage; isInHand: boolean; ids: string[] }) {
  const { row, rider } = r;
  return (
    <>
      <tr class={isInHand ? "sx-row sx-in-hand" : "sx-row"}>
        <th scope="row">
          <button
            type="button" class="sx-row-name" aria-expanded={isInHand}
            onClick={() => { rowInHand.value = rider.id; focusAgreed(rider.id); }}
          >
            <span class="sx-no">{rider.race_number}</span> {rider.name}
          </button>
        </th>
        <Mass kg={row.massBeforeKg} />
        <Mass kg={row.massAfterKg} />
        <Small value={row.massAfterKg === null ? null : row.foodKg} />
        <Small value={row.massAfterKg === null ? null : row.voidL} />
        <Volume figure={row.up} />
        <Volume figure={row.back} />
        <Volume figure={row.poured} />
        <Volume figure={row.lost} />
        <Volume figure={row.noted} />
        <td class="sx-num sx-agreed"><AgreedField r={r} stage={stage} ids={ids} isInHand={isInHand} /></td>
        <td class="sx-nowrap">{expectedText(row)}</td>
        <td><LaneBalance row={row} stage={stage} /></td>
        <td><StateCell r={r} stage={stage} ids={ids} isInHand={isInHand} /></td>
      </tr>
      {isInHand && (
        <tr class="sx-detail-row">
          <td colSpan={COLUMNS}><SettleDetail r={r} stage={stage} isReadOnly={!canEdit.value} /></td>
        </tr>
      )}
    </>
  );
}

/** The sweat loss the forecast expected, as a range and never a lone figure. */
export function expectedText(row: SettleRow): string {
  if (row.expectedLowL === null || row.expectedHighL === null) return "—";
  return t("staff.range_l", { low: decimal(row.expectedLowL, 1), high: decimal(row.expectedHighL, 1) });
}

function Volume({ figure }: { figure: Figure }) {
  return (
    <td class="sx-num">
      {figure.value === null ? <Missing /> : <>{litresFigure(figure.value)}<Evidence kind={figure.evidence} /></>}
    </td>
  );
}

function Mass({ kg }: { kg: number | null }) {
  return <td class="sx-num">{kg === null ? <Missing /> : <>{decimal(kg, 1)}<Evidence kind="weighed" /></>}</td>;
}

function Small({ value }: { value: number | null }) {
  return <td class="sx-num">{value === null ? <Missing /> : decimal(value, 1)}</td>;
}

function Missing() {
  return <span class="sx-missing"><span aria-hidden="true">—</span><span class="hidden">{t("staff.not_noted")}</span></span>;
}
