/** What the road screen holds between taps, and the acts behind its targets. */

import { batch, computed, signal } from "@preact/signals";

import { type Bike, type CageName, freshDrink, rollOut, withBottle } from "@/core/cage.ts";
import { byName } from "@/core/display.ts";
import { kmAt, nextStep, plannedIntakeL } from "@/core/due.ts";
import { type LaneDots, laneDots } from "@/core/lane.ts";
import { factsOf, totals } from "@/core/progress.ts";
import type { Drink, FactEvent, Food, RiderProfile, StageForecast, StagePlan } from "@/protocol/records.ts";
import { ate, drank, poured, takeBack } from "@/store/commands.ts";
import { currentStage, currentStageId, doc, docsOf, folded, now, session } from "@/store/state.ts";
import { route } from "@/ui/route.ts";

/** The last act, which the bar can take back; it stays until the next one. */
export interface LastAct {
  readonly kind: "drank" | "poured" | "swapped" | "ate";
  readonly cage: CageName;
  readonly foodId?: string;
  readonly atMs: number;
  readonly before: Bike;
  readonly volumeL: number;
  readonly shareFrac: number;
  readonly fact: FactEvent | null;
}

export type Said =
  | { readonly code: "already_below"; readonly cage: CageName; readonly levelFrac: number }
  | { readonly code: "not_noted" }
  | { readonly code: "taken_back" }
  | null;

const KEY = (stageId: string): string => `brinebook.bike.${stageId}`;

/** The rider on this phone; for staff who note in his place, the one the address names. */
export const riderId = computed(() => session.value?.member.rider_id ?? session.value?.rider?.id ?? route.value.args[0] ?? null);
export const foods = computed(() => docsOf("food").sort((a, b) => byName(a.name, b.name)));
export const drinks = computed(() => docsOf("drink").sort((a, b) => byName(a.short_name, b.short_name)));
const of = (type: string): string => `${type}:${riderId.value ?? ""}:${currentStageId.value ?? ""}`;
export const plan = computed(() => doc<StagePlan>(of("stage_plan")));
export const forecast = computed(() => doc<StageForecast>(of("stage_forecast")));
export const profile = computed(() => doc<RiderProfile>(`profile:${riderId.value ?? ""}`));
export const facts = computed(() => (riderId.value === null ? [] : factsOf(folded.value, riderId.value, currentStageId.value)));
export const sums = computed(() => totals(facts.value));

const elapsedH = computed(() => {
  const stage = currentStage.value;
  const offsetS = stage?.start_offset_s_by_rider?.[riderId.value ?? ""] ?? 0;
  return stage === null ? Number.NaN : (now.value - stage.start_at_ms) / 3_600_000 - offsetS / 3600;
});
/** By the clock and the forecast; null off the road. */
export const km = computed(() => kmAt(elapsedH.value, forecast.value?.along ?? []));
export const next = computed(() => nextStep(plan.value?.steps ?? [], plan.value?.along ?? [], km.value, sums.value.drankL));

export type LaneBasis = "plan" | "rest_of_plan" | "so_far";
/** What the Lane supposes about the rest of the stage. */
export const laneBasis = computed<LaneBasis>(() => {
  if (km.value !== null) return "rest_of_plan";
  return sums.value.drankEvidence === null ? "plan" : "so_far";
});

export const lane = computed<LaneDots>(() => {
  const [p, f] = [plan.value, forecast.value];
  if (p === null || f === null) return laneDots({ quantilesL: [], intakeL: null, lowL: 0, highL: 0 });
  const still = km.value === null ? 0 : Math.max(0, p.water_l - plannedIntakeL(p.along, km.value));
  const intakeL = laneBasis.value === "plan" ? p.water_l : sums.value.drankL + still;
  return laneDots({ quantilesL: f.sweat_quantiles_l, intakeL, lowL: p.lane_low_l, highL: p.lane_high_l });
});

const kept = signal<{ stageId: string; bike: Bike } | null>(null);

function stored(stageId: string): Bike | null {
  try {
    return JSON.parse(localStorage.getItem(KEY(stageId)) ?? "null") as Bike | null;
  } catch {
    return null;
  }
}

export const bike = computed<Bike | null>(() => {
  const stageId = currentStageId.value ?? "";
  if (kept.value?.stageId === stageId) return kept.value.bike;
  return stored(stageId) ?? rollOut(plan.value?.steps[0], drinks.value.map((drink) => drink.id));
});

function setBike(bikeNow: Bike): void {
  const stageId = currentStageId.value ?? "";
  kept.value = { stageId, bike: bikeNow };
  localStorage.setItem(KEY(stageId), JSON.stringify(bikeNow));
}

export const last = signal<LastAct | null>(null);
export const said = signal<Said>(null);
export const isRain = signal(false);

export const drinkIn = (cage: CageName): Drink | null =>
  drinks.value.find((drink) => drink.id === bike.value?.[cage].drinkId) ?? null;
const bottleL = (cage: CageName): number => drinkIn(cage)?.bottle_l ?? 0.5;

let isKeepAsked = false;

/** The book is worth keeping from its first entry on; asked once per opening. */
function askToKeep(): void {
  if (isKeepAsked) return;
  isKeepAsked = true;
  void navigator.storage?.persist?.();
}

function vibrate(pattern: number | number[]): void {
  navigator.vibrate?.(pattern);
}

/** Note with the liquid already drained; a write that fails puts it back and says so. */
async function noted(before: Bike, work: () => Promise<void>, pattern: number | number[]): Promise<void> {
  try {
    await work();
    vibrate(pattern);
    askToKeep();
  } catch {
    batch(() => {
      setBike(before);
      said.value = { code: "not_noted" };
    });
  }
}

/** A tap on a level: the fraction between the old level and the new one was drunk. */
export async function tapLevel(cage: CageName, levelFrac: number): Promise<void> {
  const [before, rider] = [bike.value, riderId.value];
  if (before === null || rider === null) return;
  const was = before[cage].levelFrac;
  if (levelFrac >= was) {
    said.value = { code: "already_below", cage, levelFrac: was };
    return;
  }
  const shareFrac = was - levelFrac;
  const volumeL = shareFrac * bottleL(cage);
  const isDoubtful = isRain.value;
  await noted(before, async () => {
    // The write begins before the liquid falls, so that drawing never holds it up.
    const writing = drank(rider, currentStageId.value, {
      volume_l: volumeL, how: "level", drink_id: before[cage].drinkId, bottle: cage,
      level_before_frac: was, level_after_frac: levelFrac, ...(isDoubtful ? { is_doubtful: true } : {}),
    });
    setBike(withBottle(before, cage, { levelFrac }));
    const fact = await writing;
    batch(() => {
      said.value = null;
      last.value = { kind: "drank", atMs: Date.now(), cage, before, volumeL, shareFrac, fact };
    });
  }, 40);
}

/** The last tap went over the head: the drink is taken back, the same amount is poured. */
export async function pouredLast(): Promise<void> {
  const act = last.value;
  const rider = riderId.value;
  const nowBike = bike.value;
  if (act?.kind !== "drank" || act.fact === null || rider === null || nowBike === null) return;
  const { fact } = act;
  await noted(nowBike, async () => {
    const made = await poured(rider, fact.stage_id ?? null, { volume_l: act.volumeL, drink_id: act.before[act.cage].drinkId });
    await takeBack(fact);
    last.value = { ...act, kind: "poured", fact: made };
  }, 40);
}

/** Take the last act back: the liquid returns, and a fact says so. */
export async function takeLastBack(): Promise<void> {
  const act = last.value;
  const nowBike = bike.value;
  if (act === null || nowBike === null) return;
  setBike(act.before);
  await noted(nowBike, async () => {
    if (act.fact !== null) await takeBack(act.fact);
    batch(() => {
      last.value = null;
      said.value = { code: "taken_back" };
    });
  }, [40, 60, 40]);
}

export function swap(cage: CageName): void {
  const before = bike.value;
  if (before === null) return;
  batch(() => {
    setBike(withBottle(before, cage, { levelFrac: 1, drinkId: freshDrink(before, cage, next.value) }));
    said.value = null;
    last.value = { kind: "swapped", atMs: Date.now(), cage, before, volumeL: 0, shareFrac: 0, fact: null };
  });
}

/** What is eaten next: what the plan hands up here or before, else what was eaten last. */
export const nextFood = computed<Food | null>(() => {
  const steps = plan.value?.steps ?? [];
  const here = km.value;
  const given = steps.filter((step) => here === null || step.km <= here + 1).flatMap((step) => Object.keys(step.foods ?? {}));
  const eaten = facts.value.filter((fact) => fact.kind === "ate").map((fact) => (fact.body as { food_id: string }).food_id);
  const wanted = eaten.at(-1) ?? given.at(-1);
  return foods.value.find((food) => food.id === wanted) ?? foods.value[0] ?? null;
});

export async function eat(foodId: string): Promise<void> {
  const [before, rider] = [bike.value, riderId.value];
  if (before === null || rider === null) return;
  await noted(before, async () => {
    const fact = await ate(rider, currentStageId.value, { food_id: foodId, n_units: 1 });
    batch(() => {
      said.value = null;
      last.value = { kind: "ate", atMs: Date.now(), cage: "down_tube", before, volumeL: 0, shareFrac: 0, fact, foodId };
    });
  }, 40);
}

/** It was something else: the entry is taken back and the team's next food is noted. */
export async function otherFood(): Promise<void> {
  const act = last.value;
  if (act?.kind !== "ate" || act.fact === null) return;
  const ids = foods.value.map((food) => food.id);
  const next = ids[(ids.indexOf(act.foodId ?? "") + 1) % ids.length];
  if (next === undefined) return;
  await takeBack(act.fact);
  await eat(next);
}

/** The bottle a hand most likely brings back: the emptier one. */
export const emptier = computed<CageName>(() => {
  const both = bike.value;
  return both !== null && both.seat_tube.levelFrac < both.down_tube.levelFrac ? "seat_tube" : "down_tube";
});

/** The fresh bottle holds something else: the team's next drink. */
export function otherDrink(): void {
  const [act, nowBike] = [last.value, bike.value];
  if (act?.kind !== "swapped" || nowBike === null) return;
  const ids = drinks.value.map((drink) => drink.id);
  const at = ids.indexOf(nowBike[act.cage].drinkId);
  setBike(withBottle(nowBike, act.cage, { drinkId: ids[(at + 1) % ids.length] ?? nowBike[act.cage].drinkId }));
}
