import { decimal } from "@/core/display.ts";
import type { ForecastSummary, PlanSummary, Reason, StageForecast, StagePlan } from "@/protocol/records.ts";
import { quantity } from "@/ui/parts/said.ts";
import { spoken, t } from "@/ui/words.ts";

/** What changed since the plan before, what the figures rest on, and how each of them is known. */
export function Changes({ plan, forecast }: { plan: StagePlan | PlanSummary; forecast: StageForecast | ForecastSummary | null }) {
  const changed = plan.changed ?? [];
  const reasons = [...(plan.reasons ?? []), ...(forecast?.reasons ?? [])];
  return (
    <section class="sx-changes">
      <h3>{t("staff.plans.changed")}</h3>
      {changed.length === 0
        ? <p>{t("staff.plans.unchanged")}</p>
        : <ul class="sx-plain">{changed.map((reason, i) => <li key={i}><b>{reasonText(reason)}</b></li>)}</ul>}
      {reasons.length > 0 && (
        <details>
          <summary>{t("staff.plans.rests_on")}</summary>
          <ul class="sx-plain">
            {reasons.map((reason, i) => <li key={i}>{reasonText(reason)} <small>{basisText(reason)}</small></li>)}
          </ul>
        </details>
      )}
    </section>
  );
}

function basisText(reason: Reason): string {
  const evidence = t(`evidence.${reason.evidence ?? "default"}`);
  return reason.source === undefined || reason.source === "" ? evidence : `${evidence}, ${reason.source}`;
}

export function reasonText(reason: Reason): string {
  const name = spoken(`reason.${reason.code}`) ?? reason.code.replaceAll("_", " ");
  const before = reason.before ?? null;
  const after = reason.after ?? null;
  if (after === null) return name;
  const unit = reason.quantity ?? reason.code;
  if (before === null) return t("staff.plans.reason_is", { name, after: figureOf(unit, after) });
  return t("staff.plans.reason_moved", { name, before: figureOf(unit, before), after: figureOf(unit, after) });
}

/** A factor moves in its second digit; every other figure is said as everywhere. */
function figureOf(unit: string, value: number): string {
  return unit === "sweat_factor" ? t("staff.basis.sweat_factor_figure", { n: decimal(value, 2) }) : quantity(unit, value);
}
