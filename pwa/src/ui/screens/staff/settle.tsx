import { useMemo, useState } from "preact/hooks";

import { litres } from "@/core/display.ts";
import { inSettleOrder } from "@/core/settle.ts";
import type { Stage } from "@/protocol/records.ts";
import { chosenStageId, currentStage, folded, stages } from "@/store/state.ts";
import { canEdit, isNarrow, riders } from "@/ui/screens/staff/look.ts";
import { Empty, Head, StagePicker } from "@/ui/screens/staff/parts.tsx";
import { SettleCards } from "@/ui/screens/staff/settle_cards.tsx";
import { rowInHand, rowOf, type RiderRow } from "@/ui/screens/staff/settle_state.ts";
import { SettleTable } from "@/ui/screens/staff/settle_table.tsx";
import { t } from "@/ui/words.ts";

export function SettleScreen() {
  const [openedAt] = useState(stageToSettle);
  const picked = chosenStageId.value ?? openedAt;
  const stage = stages.value.find((s) => s.id === picked) ?? currentStage.value;
  if (stage === null || riders.value.length === 0) {
    return <main class="sx"><Head title={t("staff.settle.title")} /><Empty text={t("staff.nothing_yet")} /></main>;
  }
  return <SettleStage stage={stage} key={stage.id} />;
}

/** The last stage somebody noted or weighed anything on; it stays on the table until another one is picked. */
function stageToSettle(): string | null {
  const noted = new Set([...folded.value.live.values()].map((event) => event.stage_id ?? ""));
  return stages.value.filter((stage) => noted.has(stage.id)).at(-1)?.id ?? currentStage.value?.id ?? null;
}

function SettleStage({ stage }: { stage: Stage }) {
  const rows = useOrderedRows(stage);
  const nSettled = rows.filter((r) => r.row.state === "settled").length;
  const inHand = rows.find((r) => r.rider.id === rowInHand.value) ?? rows.find((r) => r.row.state !== "settled") ?? rows[0];
  return (
    <main class="sx sx-settle">
      <Head title={t("staff.settle.title")} said={t("staff.settle.count", { n: nSettled, all: rows.length })}>
        <StagePicker chosenId={stage.id} onPick={() => { rowInHand.value = null; }} />
      </Head>
      {!canEdit.value && <p class="sx-quiet">{t("staff.settle.read_only")}</p>}
      {isNarrow.value
        ? <SettleCards rows={rows} stage={stage} />
        : <SettleTable rows={rows} stage={stage} inHandId={inHand?.rider.id ?? null} />}
      <Totals rows={rows} />
      <Legend />
    </main>
  );
}

/** The order is taken once per stage, so that a row never jumps away under somebody's hand. */
function useOrderedRows(stage: Stage): RiderRow[] {
  const all = riders.value;
  const order = useMemo(
    () => inSettleOrder(all.map((rider) => rowOf(rider, stage))).map((r) => r.rider.id),
    [stage.id, all.length],
  );
  return order.flatMap((id) => {
    const rider = all.find((r) => r.id === id);
    return rider === undefined ? [] : [rowOf(rider, stage)];
  });
}

function Totals({ rows }: { rows: readonly RiderRow[] }) {
  const sum = (of: (r: RiderRow) => number | null): number => rows.reduce((total, r) => total + (of(r) ?? 0), 0);
  return (
    <p class="sx-totals">
      {t("staff.settle.totals", {
        up: litres(sum((r) => r.row.up.value)), back: litres(sum((r) => r.row.back.value)),
        agreed: litres(sum((r) => r.row.agreedL)), open: rows.filter((r) => r.row.state !== "settled").length,
      })}
    </p>
  );
}

function Legend() {
  const marks = [["▪", "weighed"], ["◆", "counted"], ["●", "tapped"], ["○", "recalled"]] as const;
  return (
    <p class="sx-legend">
      {marks.map(([sign, name]) => (
        <span key={name}><span aria-hidden="true">{sign}</span> {t(`evidence.${name}`)}</span>
      ))}
    </p>
  );
}
