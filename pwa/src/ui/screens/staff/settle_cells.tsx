import { stageTime } from "@/core/display.ts";
import type { Stage } from "@/protocol/records.ts";
import { canEdit, memberName, riderTitle } from "@/ui/screens/staff/look.ts";
import { agreeRow } from "@/ui/screens/staff/settle_acts.ts";
import { cursor, draftOf, readiness, type RiderRow } from "@/ui/screens/staff/settle_state.ts";
import { t } from "@/ui/words.ts";

export function stateText(r: RiderRow, stage: Stage): string {
  const { row } = r;
  if (r.rivals.length > 0) return t("staff.settle.two_figures");
  if (row.state === "settled") {
    const by = memberName(row.agreedBy);
    return row.agreedAtMs === null
      ? t("staff.settle.settled_by", { by })
      : t("staff.settle.settled_at", { by, time: stageTime(row.agreedAtMs, stage.time_zone) });
  }
  if (row.missing !== null) return t(`staff.settle.missing_${row.missing}`);
  return row.state === "proposed" ? t("staff.settle.proposed") : t("staff.settle.open");
}

export function StateCell({ r, stage, ids }: { r: RiderRow; stage: Stage; ids: readonly string[] }) {
  const ready = readiness(r.row, draftOf(stage.id, r.rider.id, "agreed"));
  const isInHand = cursor.value?.riderId === r.rider.id;
  return (
    <div class="sx-state">
      <span class={`sx-state-word sx-state-${r.rivals.length > 0 ? "two" : r.row.state}`}>{stateText(r, stage)}</span>
      {canEdit.value && r.row.state !== "settled" && (
        <button
          type="button" class={isInHand && ready.can ? "button button-quiet button-act" : "button button-quiet"} tabIndex={-1}
          onClick={(event) => { event.stopPropagation(); void agreeRow(r, stage, ids); }}
        >
          {t("staff.settle.agree")}<span class="hidden"> {riderTitle(r.rider)}</span>
        </button>
      )}
    </div>
  );
}
