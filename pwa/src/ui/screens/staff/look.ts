/** What staff screens look up: riders in order, names, rights, and the width of the glass. */

import { computed, signal } from "@preact/signals";

import type { Drink, Food, ForecastSummary, PlanSummary, Rider, Stage, StageForecast, StagePlan } from "@/protocol/records.ts";
import { doc, docsOf, session, stages } from "@/store/state.ts";
import { t } from "@/ui/words.ts";

export const riders = computed<Rider[]>(() => docsOf("rider").sort((a, b) => a.race_number - b.race_number));
export const raced = computed<Stage[]>(() => stages.value.filter((stage) => stage.kind !== "rest"));

const EDITORS: ReadonlySet<string> = new Set(["physiologist", "admin"]);
export const canEdit = computed(() => EDITORS.has(session.value?.member.role ?? ""));

const MASS_READERS: ReadonlySet<string> = new Set(["physiologist", "admin", "doctor"]);
export const seesMass = computed(() => MASS_READERS.has(session.value?.member.role ?? ""));

/** The car gets bottles and litres; what a rider loses and why is for those who plan, coach or treat. */
export const seesLosses = computed(() => seesMass.value || session.value?.member.role === "coach");

/** A plan, or for those who may see no mass its summary. */
export const planOf = (riderId: string, stageId: string): StagePlan | PlanSummary | null =>
  doc<StagePlan>(`stage_plan:${riderId}:${stageId}`) ?? doc<PlanSummary>(`plan_summary:${riderId}:${stageId}`);

/** A forecast, or for those who may see no mass its summary. */
export const forecastOf = (riderId: string, stageId: string): StageForecast | ForecastSummary | null =>
  doc<StageForecast>(`stage_forecast:${riderId}:${stageId}`) ?? doc<ForecastSummary>(`forecast_summary:${riderId}:${stageId}`);

/** Whether this is the whole plan and not its summary. */
export const isWholePlan = (plan: StagePlan | PlanSummary): plan is StagePlan => "target_water_l" in plan;

/** Whether this is the whole forecast and not its summary. */
export const isWholeForecast = (forecast: StageForecast | ForecastSummary): forecast is StageForecast => "sweat_quantiles_l" in forecast;

const narrow = globalThis.matchMedia?.("(max-width: 759px)");
export const isNarrow = signal(narrow?.matches ?? false);
narrow?.addEventListener("change", (event) => {
  isNarrow.value = event.matches;
});

export function riderTitle(rider: Rider): string {
  return `${rider.race_number} ${rider.name}`;
}

/** Who wrote a fact; a person this device may not name is somebody. */
export function memberName(id: string | null): string {
  if (id === null) return "";
  if (id === session.value?.member.id) return session.value.member.name;
  return docsOf("member").find((member) => member.id === id)?.name ?? docsOf("rider").find((r) => r.id === id)?.name ?? t("staff.somebody");
}

export function drinkById(id: string): Drink | null {
  return docsOf("drink").find((drink) => drink.id === id) ?? null;
}

export function foodById(id: string): Food | null {
  return docsOf("food").find((food) => food.id === id) ?? null;
}
