import { kilometres, litres, litresRange, milligrams, percent, sweatSodium, volume } from "@/core/display.ts";
import { laneDots } from "@/core/lane.ts";
import type { EveningDrink, Settlement, Stage, StageForecast, StagePlan, StageTotal } from "@/protocol/records.ts";
import { currentStage, doc, docsOf, stages } from "@/store/state.ts";
import { Evidence } from "@/ui/parts/evidence.tsx";
import { Hint } from "@/ui/parts/hint.tsx";
import { Lane, MiniLane } from "@/ui/parts/lane.tsx";
import { reasonSentence } from "@/ui/parts/said.ts";
import { stageTitle } from "@/ui/parts/stage_picker.tsx";
import { Flags, Why } from "@/ui/parts/why.tsx";
import { href } from "@/ui/route.ts";
import { pocketSentence } from "@/ui/screens/rider/pocket.ts";
import { drinks, profile, riderId } from "@/ui/screens/rider/road_state.ts";
import { t } from "@/ui/words.ts";

const settled = (stage: Stage): Settlement | null => doc<Settlement>(`settlement:${riderId.value ?? ""}:${stage.id}`);

function Big({ litres: l }: { litres: number }) {
  const { figure, unit } = volume(l);
  return <p class="big">{figure}<small>{unit}</small></p>;
}

function Strip() {
  if (stages.value.length === 0) return <p>{t("road.nothingYet")}</p>;
  return (
    <ol class="strip">
      {stages.value.map((stage) => {
        const found = settled(stage);
        const lane = found?.lane ?? doc<StageTotal>(`stage_total:${riderId.value ?? ""}:${stage.id}`)?.lane;
        const word = lane === "nothing_noted" ? null : (lane ?? null);
        const label = `${stageTitle(stage)}: ${word === null ? t("lane.nothing_noted") : t(`lane.${word}`)}${found !== null && found.state !== "settled" ? `, ${t("weeks.open")}` : ""}`;
        if (stage.kind === "rest") return <li key={stage.id} class="rest">{t("stage.restShort")}</li>;
        return <li key={stage.id}><span aria-hidden="true">{stage.number}</span><MiniLane word={word} isSettled={found === null || found.state === "settled"} label={label} /></li>;
      })}
    </ol>
  );
}

/** The stage to prepare for: the one on screen when it has no settlement yet, else the next one that has a plan. */
function comingStage(): Stage | null {
  const now = currentStage.value;
  if (now === null) return null;
  const from = settled(now)?.state === "settled" ? now.day_index + 1 : now.day_index;
  return stages.value.find((stage) => stage.day_index >= from && doc(`stage_plan:${riderId.value ?? ""}:${stage.id}`) !== null) ?? null;
}

function Plan() {
  const stage = comingStage();
  const plan = stage === null ? null : doc<StagePlan>(`stage_plan:${riderId.value ?? ""}:${stage.id}`);
  const forecast = stage === null ? null : doc<StageForecast>(`stage_forecast:${riderId.value ?? ""}:${stage.id}`);
  if (stage === null || plan === null) return <p>{t("weeks.noPlan")}</p>;
  const name = (id: string): string => drinks.value.find((drink) => drink.id === id)?.short_name ?? docsOf("food").find((food) => food.id === id)?.name ?? id;
  const dots = forecast === null ? null : laneDots({ quantilesL: forecast.sweat_quantiles_l, intakeL: plan.water_l, lowL: plan.lane_low_l, highL: plan.lane_high_l });
  return (
    <section class="group" aria-labelledby="plan">
      <header class="page-head">
        <h2 id="plan">{stageTitle(stage)}</h2>
        <p>{plan.status === "published" ? t("weeks.published", { n: plan.plan_version }) : t("weeks.draft", { n: plan.plan_version })}</p>
      </header>
      <p>{t("weeks.toDrink")}</p>
      <Big litres={plan.water_l} />
      {forecast !== null && <p>{t("weeks.expected", { range: litresRange(forecast.sweat_q10_l, forecast.sweat_q90_l) })} <Evidence kind="predicted" /></p>}
      {dots !== null && <Lane dots={dots} />}
      <ul class="rows">
        {plan.steps.map((step) => (
          <li key={step.feed_id}>
            <b>{kilometres(step.km)}</b> {step.feed_name}:{" "}
            {[...Object.entries(step.bottles), ...Object.entries(step.foods ?? {})].filter(([, n]) => n > 0).map(([id, n]) => `${n} × ${name(id)}`).join(", ") || t("weeks.nothingHere")}
          </li>
        ))}
      </ul>
      {plan.pre_stage_drink_l > 0 && <p>{t("weeks.before", { litres: litres(plan.pre_stage_drink_l) })}</p>}
      {(plan.changed ?? []).length > 0 && (
        <div class="group"><h3>{t("weeks.changed")}</h3><ul class="rows">{(plan.changed ?? []).map((reason, i) => <li key={i}>{reasonSentence(reason)}</li>)}</ul></div>
      )}
      <Flags flags={plan.flags} />
      <Why of={plan} />
    </section>
  );
}

function Evening() {
  const all = docsOf("evening_drink").filter((drink) => drink.rider_id === riderId.value);
  const latest: EveningDrink | undefined = [...stages.value].reverse().map((stage) => all.find((drink) => drink.stage_id === stage.id)).find((drink) => drink !== undefined);
  if (latest === undefined) return null;
  const stage = stages.value.find((s) => s.id === latest.stage_id);
  return (
    <section class="group" aria-labelledby="evening">
      <h2 id="evening">{t("weeks.evening", { stage: stage === undefined ? "" : stageTitle(stage) })}</h2>
      <Big litres={latest.drink_until_bed_l} />
      <p>{t("weeks.eveningSaid", { sodium: milligrams(latest.sodium_mg), rate: litres(latest.max_rate_l_per_h) })}</p>
      {latest.carried_over_l > 0.02 && <p>{t("weeks.carried", { litres: litres(latest.carried_over_l) })}</p>}
      <Flags flags={latest.flags} />
      <Why of={latest} />
    </section>
  );
}

function Sweat() {
  const mine = profile.value;
  if (mine === null) return null;
  const pocket = pocketSentence(mine.pocket_rule ?? null, drinks.value);
  return (
    <section class="group" aria-labelledby="sweat">
      <h2 id="sweat">{t("weeks.sweat")}</h2>
      <dl class="pair">
        <dt>{t("weeks.sodium")}</dt><dd>{sweatSodium(mine.sodium_mean_mmol_per_l)}{"\u00a0"}<Evidence kind={mine.sodium_evidence} /></dd>
        <dt>{t("weeks.factor")}</dt><dd>{percent(mine.sweat_factor_median)} <Evidence kind={mine.factor_evidence} /></dd>
      </dl>
      {mine.sodium_evidence === "default" && <p>{t("weeks.notMeasured")}</p>}
      {pocket !== null && <p><b>{pocket}</b></p>}
      <Flags flags={mine.flags} />
      <Why of={mine} />
    </section>
  );
}

/** Three weeks of one rider: where each stage ended, what comes next, what is still owed tonight. */
export function Weeks() {
  return (
    <main class="page">
      <h1>{t("weeks.title")}</h1>
      <Hint name="weeks">{t("weeks.hint")}</Hint>
      <Strip />
      <Evening />
      <Plan />
      <Sweat />
      <p><a class="button" href={href("rides")}>{t("weeks.ride")}</a></p>
    </main>
  );
}
