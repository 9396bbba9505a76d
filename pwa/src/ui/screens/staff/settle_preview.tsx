import { decimal, litres, percent } from "@/core/display.ts";
import { settlementPreview, type Preview } from "@/core/learn.ts";
import type { Stage, StageForecast } from "@/protocol/records.ts";
import { doc } from "@/store/state.ts";
import { raced, seesMass } from "@/ui/screens/staff/look.ts";
import { draftOf, readiness, type RiderRow } from "@/ui/screens/staff/settle_state.ts";
import { t } from "@/ui/words.ts";

/** What agreeing would do to what is known of the rider, before anybody agrees. Works without a link. */
export function SettlePreview({ r, stage }: { r: RiderRow; stage: Stage }) {
  if (!seesMass.value) return null;
  const ready = readiness(r.row, draftOf(stage.id, r.rider.id, "agreed"));
  const drunkL = r.row.agreedL ?? (ready.can ? ready.drunkL : r.row.proposedL);
  const preview = drunkL === null ? null : settlementPreview(r.settlement, drunkL);
  return (
    <section class="sx-preview" aria-label={t("staff.preview.title")}>
      <h3>{r.row.agreedL === null ? t("staff.preview.title") : t("staff.preview.title_done")}</h3>
      {preview === null || drunkL === null
        ? <p>{r.row.missing === null ? t("staff.preview.waits") : t("staff.preview.no_scales")}</p>
        : <PreviewLines preview={preview} drunkL={drunkL} nextQ50L={nextLossL(r.rider.id, stage)} />}
    </section>
  );
}

function nextLossL(riderId: string, stage: Stage): { number: number; lossL: number } | null {
  const next = raced.value.find((one) => one.day_index > stage.day_index);
  const forecast = next === undefined ? null : doc<StageForecast>(`stage_forecast:${riderId}:${next.id}`);
  return next === undefined || forecast === null ? null : { number: next.number, lossL: forecast.sweat_q50_l };
}

interface LinesProps {
  preview: Preview;
  drunkL: number;
  nextQ50L: { number: number; lossL: number } | null;
}

function PreviewLines({ preview: p, drunkL, nextQ50L }: LinesProps) {
  return (
    <>
      <p>{t("staff.preview.sweat", { drunk: litres(drunkL), sweat: litres(p.sweatL), model: litres(p.modelL * p.factorBefore) })}</p>
      {p.verdict === "learns" ? (
        <>
          <FactorRoad preview={p} />
          <p>
            {t("staff.preview.factor", {
              before: decimal(p.factorBefore, 2), after: decimal(p.factorAfter, 2), low: decimal(p.factorLow, 2), high: decimal(p.factorHigh, 2),
            })}{" "}
            {nextQ50L !== null && t("staff.preview.next", {
              n: nextQ50L.number, change: signedPercent(p.nextLossFrac), l: litres(nextQ50L.lossL * Math.abs(p.nextLossFrac)),
            })}
          </p>
        </>
      ) : <p class="flag flag-caution">{t(`staff.preview.${p.verdict}`)}</p>}
      <p>{p.deficitL > 0 ? t("staff.preview.owes", { l: litres(p.deficitL) }) : t("staff.preview.owes_nothing")}</p>
    </>
  );
}

const signedPercent = (frac: number): string => `${frac < 0 ? "−" : "+"}${percent(Math.abs(frac))}`;

const WIDTH = 320;
const LOW = 0.5;
const HIGH = 2;

/** The factor before and after, and how sure it then is, on a road from half to twice the model. */
function FactorRoad({ preview: p }: { preview: Preview }) {
  const x = (factor: number): number => 8 + (Math.log(Math.min(HIGH, Math.max(LOW, factor)) / LOW) / Math.log(HIGH / LOW)) * (WIDTH - 16);
  return (
    <svg class="sx-factor" viewBox={`0 0 ${WIDTH} 46`} aria-hidden="true">
      <path class="sx-range-road" d={`M8 14H${WIDTH - 8}`} />
      <path class="sx-range-span" d={`M${x(p.factorLow)} 14H${x(p.factorHigh)}`} />
      <circle class="sx-factor-was" cx={x(p.factorBefore)} cy="14" r="6" />
      <path class="sx-range-mean" d={`M${x(p.factorAfter)} 3V25`} />
      {[LOW, 1, HIGH].map((mark) => <text key={mark} x={x(mark)} y="42" text-anchor={mark === LOW ? "start" : mark === HIGH ? "end" : "middle"}>× {decimal(mark, 1)}</text>)}
    </svg>
  );
}
