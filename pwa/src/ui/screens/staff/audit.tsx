import { useState } from "preact/hooks";

import { decimal, litres } from "@/core/display.ts";
import { forecastScore, scoreOf } from "@/core/three_weeks.ts";
import type { AuditRow, ForecastAudit, Stage } from "@/protocol/records.ts";
import { docsOf } from "@/store/state.ts";
import { raced, riders, riderTitle } from "@/ui/screens/staff/look.ts";
import { t } from "@/ui/words.ts";

const SPANS = [["first", 1, 7], ["second", 8, 14], ["third", 15, 30]] as const;

/** How good we were: the team's forecasts against what was settled, and whether they got better. */
export function AuditSection() {
  const audit = docsOf("forecast_audit")[0] ?? null;
  return (
    <section class="sx-audit" aria-labelledby="audit-title">
      <h2 id="audit-title">{t("staff.audit.title")}</h2>
      {audit === null || audit.n_settled === 0 ? <p>{t("staff.audit.none")}</p> : <Scores audit={audit} />}
    </section>
  );
}

function Scores({ audit }: { audit: ForecastAudit }) {
  return (
    <>
      <p class="sx-rule">{summary(audit.rows)}</p>
      <div class="sx-scroll" tabIndex={0} role="region" aria-label={t("staff.audit.title")}>
        <table class="sx-table sx-stack">
          <thead>
            <tr>
              <th scope="col">{t("staff.audit.span")}</th>
              <th scope="col" class="sx-num">{t("staff.audit.n")}</th>
              <th scope="col">{t("staff.audit.bias")}</th>
              <th scope="col" class="sx-num">{t("staff.audit.error")}</th>
              <th scope="col">{t("staff.audit.coverage")}</th>
            </tr>
          </thead>
          <tbody>
            {SPANS.map(([name, from, to]) => <ScoreRow key={name} name={t(`staff.audit.${name}`)} rows={audit.rows.filter((row) => row[1] >= from && row[1] <= to)} />)}
            <ScoreRow name={t("staff.audit.all")} rows={audit.rows} />
          </tbody>
          <tbody>
            <tr><th colSpan={5} scope="rowgroup" class="sx-group-head">{t("staff.audit.by_kind")}</th></tr>
            {KINDS.map((kind) => <ScoreRow key={kind} name={t(`staff.kind.${kind}`)} rows={audit.rows.filter((row) => stageOf(row)?.kind === kind)} />)}
          </tbody>
          <tbody>
            <tr><th colSpan={5} scope="rowgroup" class="sx-group-head">{t("staff.audit.by_heat")}</th></tr>
            {HEAT.map(([key, low, high]) => <ScoreRow key={key} name={t(`staff.audit.heat_${key}`)} rows={audit.rows.filter((row) => warmestC(row) >= low && warmestC(row) < high)} />)}
          </tbody>
          <tbody>
            <tr><th colSpan={5} scope="rowgroup" class="sx-group-head">{t("staff.audit.by_rider")}</th></tr>
            {riders.value.map((rider) => <ScoreRow key={rider.id} name={riderTitle(rider)} rows={audit.rows.filter((row) => row[0] === rider.id)} />)}
          </tbody>
        </table>
      </div>
      <p class="sx-quiet">{t("staff.audit.honest")}</p>
    </>
  );
}

const KINDS = ["flat", "hilly", "mountain", "time_trial", "mountain_time_trial"] as const;
const HEAT = [["cool", -99, 20], ["warm", 20, 28], ["hot", 28, 99]] as const;

const stageOf = (row: AuditRow): Stage | undefined => raced.value.find((stage) => stage.number === row[1]);
const warmestC = (row: AuditRow): number => Math.max(-99, ...(stageOf(row)?.forecast ?? []).map((hour) => hour.air_temperature_c));

function ScoreRow({ name, rows }: { name: string; rows: readonly AuditRow[] }) {
  const score = scoreOf(rows);
  if (score === null) return <tr><th scope="row">{name}</th><td class="sx-num">0</td><td colSpan={3}>{t("staff.audit.nothing")}</td></tr>;
  return (
    <tr>
      <th scope="row">{name}<Behind rows={rows} name={name} /></th>
      <td class="sx-num" data-label={t("staff.audit.n")}>{score.n}</td>
      <td data-label={t("staff.audit.bias")}>{biasText(score.biasL)}</td>
      <td class="sx-num" data-label={t("staff.audit.error")}>{decimal(score.meanAbsoluteErrorL, 2)} L</td>
      <td data-label={t("staff.audit.coverage")}>{t("staff.audit.covered", { percent: decimal(score.coverageFrac * 100, 0) })}</td>
    </tr>
  );
}

/** The stages a score is made of, drawn only once somebody opens it. */
function Behind({ rows, name }: { rows: readonly AuditRow[]; name: string }) {
  const [isOpen, setOpen] = useState(false);
  return (
    <details class="why sx-behind" onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>{t("why.open")}<span class="hidden"> {name}</span></summary>
      {isOpen && (
        <ul>
          {rows.map(([riderId, stage, predicted, settled, isInside]) => (
            <li key={`${riderId} ${stage}`}>{t(isInside ? "staff.audit.one_inside" : "staff.audit.one_outside", {
              n: stage, rider: riders.value.find((one) => one.id === riderId)?.race_number ?? "", predicted: decimal(predicted, 2), settled: decimal(settled, 2),
            })}</li>
          ))}
          <li>{t("staff.audit.reckoned")}</li>
        </ul>
      )}
    </details>
  );
}

const NONE_L = 0.025;

export function biasText(biasL: number): string {
  if (Math.abs(biasL) < NONE_L) return t("staff.audit.no_bias");
  return t(biasL > 0 ? "staff.audit.too_high" : "staff.audit.too_low", { l: litres(Math.abs(biasL)) });
}

/** First week against the latest one, in one sentence. */
function summary(rows: readonly AuditRow[]): string {
  const first = forecastScore(rows, 1, 7);
  const late = forecastScore(rows, 15, 30) ?? forecastScore(rows, 8, 14);
  if (first === null || late === null) return t("staff.audit.early");
  const values = { first: decimal(first.meanAbsoluteErrorL, 2), late: decimal(late.meanAbsoluteErrorL, 2) };
  return t(late.meanAbsoluteErrorL < first.meanAbsoluteErrorL ? "staff.audit.better" : "staff.audit.not_better", values);
}
