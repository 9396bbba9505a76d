import { decimal, hours, kilometres, litres, milligrams } from "@/core/display.ts";
import type {
  EveningDrink, ForecastSummary, FreedBy, PlanStep, PlanSummary, Rider, RiderProfile, Stage, StageForecast, StagePlan,
} from "@/protocol/records.ts";
import { doc, docsOf } from "@/store/state.ts";
import { canEdit, drinkById, foodById, forecastOf, isWholeForecast, isWholePlan, riderTitle, seesLosses, seesMass } from "@/ui/screens/staff/look.ts";
import { Empty, Flags } from "@/ui/screens/staff/parts.tsx";
import { PlanBands } from "@/ui/screens/staff/plan_bands.tsx";
import { PlanChart } from "@/ui/screens/staff/plan_chart.tsx";
import { WhatIf } from "@/ui/screens/staff/plan_what_if.tsx";
import { PocketRuleText } from "@/ui/screens/staff/pocket_rule.tsx";
import { Changes } from "@/ui/screens/staff/plan_reasons.tsx";
import { LaneDotsStrip } from "@/ui/screens/staff/settle_lane.tsx";
import { spoken, t } from "@/ui/words.ts";

type AnyPlan = StagePlan | PlanSummary;
type AnyForecast = StageForecast | ForecastSummary;

interface DetailProps {
  rider: Rider;
  stage: Stage;
  plan: AnyPlan | null;
}

export function PlanDetail({ rider, stage, plan }: DetailProps) {
  const forecast = forecastOf(rider.id, stage.id);
  if (plan === null) {
    return (
      <>
        <h2 id="plan-rider">{riderTitle(rider)}</h2>
        <Empty text={t("staff.plans.none_yet")} />
      </>
    );
  }
  return (
    <>
      <header class="sx-plan-head">
        <h2 id="plan-rider">{riderTitle(rider)}</h2>
        <p>{versionText(plan)}</p>
      </header>
      <Figures plan={plan} forecast={forecast} />
      {(plan.flags ?? []).length > 0 && <Flags flags={plan.flags ?? []} />}
      {forecast !== null && <PlanChart forecast={forecast} plan={plan} drinks={docsOf("drink")} />}
      {forecast !== null && isWholeForecast(forecast) && isWholePlan(plan) && <PlanBands forecast={forecast} plan={plan} />}
      {forecast !== null && isWholeForecast(forecast) && isWholePlan(plan) && canEdit.value && <WhatIf rider={rider} stage={stage} plan={plan} forecast={forecast} />}
      <FeedTable plan={plan} forecast={forecast} />
      <div class="sx-plan-notes">
        <Limits plan={plan} />
        <Heat plan={plan} />
        <Pocket riderId={rider.id} />
        <Evening riderId={rider.id} stageId={stage.id} />
        {seesLosses.value && <Changes plan={plan} forecast={forecast} />}
      </div>
    </>
  );
}

function versionText(plan: AnyPlan): string {
  const word = t(`staff.plans.${plan.status}`);
  return plan.supersedes === null || plan.supersedes === undefined
    ? t("staff.plans.version", { status: word, n: plan.plan_version })
    : t("staff.plans.version_after", { status: word, n: plan.plan_version, old: plan.supersedes });
}

const SEEN_IN_FOOD_L = 0.05;

/** The aim, and how much of the plan's water is in food: the drunk line of the drawing leaves that out. */
function waterAim(plan: StagePlan): string {
  const foodL = plan.water_l - (plan.along.at(-1)?.[1] ?? plan.water_l);
  const target = litres(plan.target_water_l);
  return foodL < SEEN_IN_FOOD_L ? t("staff.plans.of", { target }) : t("staff.plans.of_with_food", { target, food: litres(foodL) });
}

function Figures({ plan, forecast }: { plan: AnyPlan; forecast: AnyForecast | null }) {
  return (
    <>
      <dl class="sx-figures">
        <div><dt>{t("staff.plans.water")}</dt><dd>{litres(plan.water_l)}</dd>{isWholePlan(plan) && <dd class="sx-of">{waterAim(plan)}</dd>}</div>
        <div><dt>{t("staff.plans.sodium")}</dt><dd>{milligrams(plan.sodium_mg)}</dd>{isWholePlan(plan) && <dd class="sx-of">{t("staff.plans.of", { target: milligrams(plan.target_sodium_mg) })}</dd>}</div>
        <div><dt>{t("staff.plans.carbohydrate")}</dt><dd>{decimal(plan.carbohydrate_g, 0)} g</dd><dd class="sx-of">{perHour(plan, forecast)}</dd></div>
        {forecast !== null && (
          <div>
            <dt>{t("staff.plans.loss")}</dt>
            <dd>{t("staff.range_l", { low: decimal(forecast.sweat_q10_l, 1), high: decimal(forecast.sweat_q90_l, 1) })}</dd>
            <dd class="sx-of">{t("staff.plans.stage_facts", { time: hours(forecast.duration_h), c: decimal(forecast.air_temperature_max_c, 0) })}</dd>
          </div>
        )}
      </dl>
      {forecast !== null && isWholeForecast(forecast) && isWholePlan(plan) && <LaneDotsStrip forecast={forecast} plan={plan} intakeL={plan.water_l} />}
    </>
  );
}

function perHour(plan: AnyPlan, forecast: AnyForecast | null): string {
  return forecast === null ? "" : t("staff.plans.per_hour", { g: decimal(plan.carbohydrate_g / forecast.duration_h, 0) });
}

/** What leaves the musette where, and how much of it should be gone before the next one. */
function FeedTable({ plan, forecast }: { plan: AnyPlan; forecast: AnyForecast | null }) {
  return (
    <div class="sx-scroll" tabIndex={0} role="region" aria-label={t("staff.plans.feeds")}>
      <table class="sx-table sx-stack sx-feeds">
        <caption>{t("staff.plans.feeds")}</caption>
        <thead>
          <tr>
            <th scope="col">{t("staff.plans.feed")}</th>
            <th scope="col">{t("staff.plans.bottles")}</th>
            <th scope="col">{t("staff.plans.foods")}</th>
            <th scope="col" class="sx-num">{t("staff.plans.drink_by")}</th>
            {forecast !== null && <th scope="col" class="sx-num">{t("staff.plans.loss_by")}</th>}
          </tr>
        </thead>
        <tbody>
          {isWholePlan(plan) && plan.pre_stage_drink_l > 0 && (
            <tr>
              <th scope="row">{t("staff.plans.before_start")}</th>
              <td colSpan={2}>{t("staff.plans.pre_drink")}</td>
              <td class="sx-num" data-label={t("staff.plans.drink_by")}>{litres(plan.pre_stage_drink_l)}</td>
              {forecast !== null && <td class="sx-num sx-no-stack">—</td>}
            </tr>
          )}
          {plan.steps.map((step, i) => <FeedRow key={step.feed_id + step.km} step={step} n={i + 1} forecast={forecast} />)}
        </tbody>
      </table>
    </div>
  );
}

function FeedRow({ step, n, forecast }: { step: PlanStep; n: number; forecast: AnyForecast | null }) {
  return (
    <tr>
      <th scope="row"><span class="sx-feed-no">{n}</span> {step.feed_name} <small>{kilometres(step.km)}</small></th>
      <td data-label={t("staff.plans.bottles")}>{countedText(step.bottles, (id) => drinkById(id)?.name ?? id)}</td>
      <td data-label={t("staff.plans.foods")}>{countedText(step.foods ?? {}, (id) => foodById(id)?.name ?? id)}</td>
      <td class="sx-num sx-nowrap" data-label={t("staff.plans.drink_by")}>{litres(step.drink_l ?? 0)} <small>{t("staff.plans.by_km", { km: decimal(step.until_km, 0) })}</small></td>
      {forecast !== null && <td class="sx-num sx-nowrap" data-label={t("staff.plans.loss_by")}>{lossBy(forecast, step.until_km)}</td>}
    </tr>
  );
}

function countedText(counts: Readonly<Record<string, number>>, nameOf: (id: string) => string): string {
  const parts = Object.entries(counts).filter(([, n]) => n > 0).map(([id, n]) => `${decimal(n, 0)} × ${nameOf(id)}`);
  return parts.length === 0 ? "—" : parts.join(", ");
}

function lossBy(forecast: AnyForecast, km: number): string {
  const point = forecast.along.find((p) => p[0] >= km) ?? forecast.along.at(-1);
  return point === undefined ? "—" : t("staff.range_l", { low: decimal(point[3], 1), high: decimal(point[5], 1) });
}

/** Which limits hold the plan back, in words, and what would free it. */
function Limits({ plan }: { plan: AnyPlan }) {
  const freed = isWholePlan(plan) ? plan.freed_by ?? [] : [];
  return (
    <section>
      <h3>{t("staff.plans.limits")}</h3>
      {plan.binding_limits.length === 0
        ? <p>{t("staff.plans.no_limits")}</p>
        : <ul class="sx-plain">{plan.binding_limits.map((code) => <li key={code}>{spoken(`staff.limit.${code}`) ?? code.replaceAll("_", " ")}</li>)}</ul>}
      {plan.binding_limits.length > 0 && isWholePlan(plan) && (
        <>
          <h4>{t("staff.freed.title")}</h4>
          {freed.length === 0
            ? <p>{t("staff.freed.none")}</p>
            : <ul class="sx-plain">{freed.map((one) => <li key={one.code}>{freedText(one)}</li>)}</ul>}
        </>
      )}
      {plan.steps.length > 1 && <p class="sx-quiet">{t("staff.missed.rule")}</p>}
    </section>
  );
}

function freedText(one: FreedBy): string {
  const what = spoken(`staff.freed.${one.code}`) ?? one.code.replaceAll("_", " ");
  const km = one.km ?? null;
  return km === null ? what : t("staff.freed.at", { what, where: one.feed_name ?? "", km: decimal(km, 0) });
}

function Heat({ plan }: { plan: AnyPlan }) {
  const codes = plan.heat ?? [];
  if (codes.length === 0) return null;
  return (
    <section>
      <h3>{t("staff.heat.title")}</h3>
      <ul class="sx-plain">{codes.map((code) => <li key={code}>{spoken(`staff.heat.${code}`) ?? code.replaceAll("_", " ")}</li>)}</ul>
    </section>
  );
}

function Pocket({ riderId }: { riderId: string }) {
  const rule = doc<RiderProfile>(`profile:${riderId}`)?.pocket_rule ?? null;
  if (rule === null && !seesMass.value) return null;
  return (
    <section>
      <h3>{t("staff.pocket.title")}</h3>
      {rule === null ? <p>{t("staff.pocket.none")}</p> : <PocketRuleText rule={rule} />}
    </section>
  );
}

function Evening({ riderId, stageId }: { riderId: string; stageId: string }) {
  const evening = doc<EveningDrink>(`evening_drink:${riderId}:${stageId}`);
  if (evening === null && !seesMass.value) return null;
  return (
    <section>
      <h3>{t("staff.evening.title")}</h3>
      {evening === null ? <p>{t("staff.evening.none")}</p> : (
        <>
          <p>
            {t("staff.evening.said", {
              drink: litres(evening.drink_until_bed_l), sodium: milligrams(evening.sodium_mg), deficit: litres(evening.deficit_l),
              rate: decimal(evening.max_rate_l_per_h, 1), hours: decimal(evening.hours_to_next_start_h, 0),
            })}
          </p>
          {evening.drink_l > 0 && (evening.sodium_until_bed_mg ?? 0) > 0 && (
            <p>
              {t("staff.evening.parts", {
                evening: milligrams(evening.sodium_until_bed_mg ?? 0), breakfast: milligrams(evening.sodium_breakfast_mg ?? 0),
                drink: litres(evening.breakfast_drink_l ?? 0),
              })}
            </p>
          )}
          {evening.rest_day !== null && evening.rest_day !== undefined && (
            <p>{t("staff.evening.rest_day", { drink: litres(evening.rest_day.drink_l), sodium: milligrams(evening.rest_day.sodium_mg) })}</p>
          )}
          {evening.carried_over_l > 0.05 && <p>{t("staff.evening.carried", { l: litres(evening.carried_over_l) })}</p>}
          {(evening.flags ?? []).length > 0 && <Flags flags={evening.flags ?? []} />}
        </>
      )}
    </section>
  );
}
