import { signal } from "@preact/signals";
import { useEffect, useMemo, useRef, useState } from "preact/hooks";

import { litres } from "@/core/display.ts";
import { inSettleOrder, sanity } from "@/core/settle.ts";
import type { Stage } from "@/protocol/records.ts";
import { chosenStageId, currentStage, folded, link, session, stages } from "@/store/state.ts";
import { mayOpen } from "@/ui/nav.tsx";
import { Button } from "@/ui/parts/button.tsx";
import { href } from "@/ui/route.ts";
import { canEdit, isNarrow, riders } from "@/ui/screens/staff/look.ts";
import { Head, NothingYet, StagePicker } from "@/ui/screens/staff/parts.tsx";
import { bePresent, presentNames } from "@/ui/screens/staff/presence.ts";
import { agreeAll, keepCell, typedCells } from "@/ui/screens/staff/settle_acts.ts";
import { SettleCards } from "@/ui/screens/staff/settle_cards.tsx";
import { SettleDetail } from "@/ui/screens/staff/settle_detail.tsx";
import { SettleGrid } from "@/ui/screens/staff/settle_grid.tsx";
import {
  cursor, draftOf, drafts, REASONS, refused, rowOf, setDraft, type AgreeReason, type RiderRow,
} from "@/ui/screens/staff/settle_state.ts";
import { SettleTeam } from "@/ui/screens/staff/settle_team.tsx";
import { t } from "@/ui/words.ts";

const onlyOpen = signal(false);

export function SettleScreen() {
  const opened = useRef<string | null>(null);
  // The stage stays put once this device has read everything; until then the log may still be arriving.
  if (opened.current === null && link.value === "linked") opened.current = stageToSettle();
  const picked = chosenStageId.value ?? opened.current ?? stageToSettle();
  const stage = stages.value.find((s) => s.id === picked) ?? currentStage.value;
  if (stage === null || riders.value.length === 0) {
    return <main class="sx"><Head title={t("staff.settle.title")} /><NothingYet /></main>;
  }
  return <SettleStage stage={stage} key={stage.id} />;
}

/** The last stage somebody noted or weighed anything on; it stays on the table until another one is picked. */
function stageToSettle(): string | null {
  const noted = new Set([...folded.value.live.values()].map((event) => event.stage_id ?? ""));
  return stages.value.filter((stage) => noted.has(stage.id)).at(-1)?.id ?? currentStage.value?.id ?? null;
}

function SettleStage({ stage }: { stage: Stage }) {
  useEffect(() => {
    cursor.value = null;
    refused.value = null;
    return bePresent(stage.id);
  }, [stage.id]);
  const all = useOrderedRows(stage);
  const rows = onlyOpen.value ? all.filter((r) => r.row.state !== "settled" || r.rivals.length > 0) : all;
  const nSettled = all.filter((r) => r.row.state === "settled").length;
  const inHand = rows.find((r) => r.rider.id === cursor.value?.riderId) ?? rows.find((r) => r.row.state !== "settled") ?? rows[0];
  const ids = rows.map((r) => r.rider.id);
  return (
    <main class="sx sx-settle">
      <Head title={t("staff.settle.title")} said={t("staff.settle.count", { n: nSettled, all: all.length })}>
        <StagePicker chosenId={stage.id} />
        <Acts rows={all} stage={stage} />
      </Head>
      {!canEdit.value && <p class="sx-quiet">{t("staff.settle.read_only")}</p>}
      <TypedBar rows={rows} stage={stage} />
      {isNarrow.value ? <SettleCards rows={rows} stage={stage} /> : (
        <>
          <SettleGrid rows={rows} stage={stage} />
          <p class="sx-quiet sx-keys" id="settle-keys">{canEdit.value && t("staff.settle.keys")} <Others /></p>
          {inHand !== undefined && <SettleDetail r={inHand} stage={stage} ids={ids} key={inHand.rider.id} />}
        </>
      )}
      <Totals rows={all} />
      <SettleTeam rows={all} stage={stage} key={`team-${stage.id}`} />
      <Legend />
    </main>
  );
}

function Others() {
  const names = presentNames();
  return names.length === 0 ? null : <b role="status">{t("staff.settle.also_here", { names: names.join(", ") })}</b>;
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

/** Rows that both weighings, bottles and forecast speak for, with nothing typed over them. */
function sound(rows: readonly RiderRow[], stage: Stage): RiderRow[] {
  return rows.filter((r) => r.row.state === "proposed" && draftOf(stage.id, r.rider.id, "agreed") === null
    && sanity(r.row).length === 0 && !(r.settlement?.flags ?? []).some((flag) => flag.severity !== "note"));
}

function Acts({ rows, stage }: { rows: readonly RiderRow[]; stage: Stage }) {
  const [said, setSaid] = useState("");
  const fit = sound(rows, stage);
  const settle = async (): Promise<void> => setSaid(t("staff.settle.settled_n", { n: await agreeAll(fit, stage) }));
  return (
    <>
      <Button kind="quiet" isPressed={onlyOpen.value} onPress={() => { onlyOpen.value = !onlyOpen.value; }}>{t("staff.settle.only_open")}</Button>
      {canEdit.value && <Button kind="quiet" isDisabled={fit.length === 0} onPress={() => void settle()}>{t("staff.settle.agree_sound", { n: fit.length })}</Button>}
      {mayOpen(session.value?.member.role ?? "coach", "rides") && <a class="button button-quiet" href={href("rides")}>{t("staff.settle.rides")}</a>}
      <Button kind="quiet" onPress={() => print()}>{t("staff.print")}</Button>
      <p class="hidden" role="status">{said}</p>
    </>
  );
}

/** Figures typed or pasted and not kept yet: keep all that can be kept, or throw them away. */
function TypedBar({ rows, stage }: { rows: readonly RiderRow[]; stage: Stage }) {
  const [reason, setReason] = useState<AgreeReason>("");
  const [said, setSaid] = useState("");
  const cells = typedCells(rows, stage).filter(({ r, column }) => (draftOf(stage.id, r.rider.id, column)?.text.trim() ?? "") !== "");
  if (cells.length < 2) return said === "" ? null : <p class="sx-said" role="status">{said}</p>;
  const asksReason = cells.some(({ r, column }) => column === "agreed" && draftOf(stage.id, r.rider.id, column)?.reason === "");
  const keepAll = async (): Promise<void> => {
    let n = 0;
    for (const { r, column } of cells) {
      const draft = draftOf(stage.id, r.rider.id, column);
      if (column === "agreed" && draft !== null && draft.reason === "" && reason !== "") setDraft(stage.id, r.rider.id, column, { ...draft, reason });
      // The row is read again each time: a kept mass may change what a later cell of it stands on.
      if (await keepCell(rowOf(r.rider, stage), stage, column)) n += 1;
    }
    setSaid(t("staff.settle.kept_n", { n, all: cells.length }));
  };
  return (
    <div class="sx-typed-bar" role="group" aria-label={t("staff.settle.typed_bar")}>
      <p role="status">{t("staff.settle.typed_n", { n: cells.length })}</p>
      {asksReason && (
        <label class="sx-picker">
          <span>{t("staff.settle.reason_all")}</span>
          <select value={reason} onChange={(event) => setReason(event.currentTarget.value as AgreeReason)}>
            <option value="">{t("staff.settle.reason_none")}</option>
            {REASONS.map((one) => <option key={one} value={one}>{t(`staff.because.${one}`)}</option>)}
          </select>
        </label>
      )}
      <Button kind="quiet" onPress={() => void keepAll()}>{t("staff.settle.keep_all")}</Button>
      <Button kind="quiet" onPress={() => { drafts.value = new Map(); setSaid(""); }}>{t("staff.settle.throw_away")}</Button>
    </div>
  );
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
