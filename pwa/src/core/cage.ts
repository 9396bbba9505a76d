/** The two bottles on the bike: which drink, how full. Remembered on the phone; the facts carry what was drunk. */

import type { PlanStep } from "@/protocol/records.ts";

export type CageName = "down_tube" | "seat_tube";
export const CAGES: readonly CageName[] = ["down_tube", "seat_tube"];
/** Where a band's foot stands: tapping a band says that the liquid stands there now. */
export const LEVELS: readonly number[] = [0.75, 0.5, 0.25, 0];

export interface Bottle {
  readonly drinkId: string;
  readonly levelFrac: number;
}
export type Bike = Readonly<Record<CageName, Bottle>>;

/** The drinks of one plan step, one for each bottle. */
export function drinksOf(step: PlanStep | null | undefined): string[] {
  return Object.entries(step?.bottles ?? {}).flatMap(([drinkId, n]) => Array.from({ length: n }, () => drinkId));
}

/** Two full bottles at roll-out, as planned, else the team's first two drinks. */
export function rollOut(first: PlanStep | null | undefined, drinkIds: readonly string[]): Bike | null {
  const [a, b] = [...drinksOf(first), ...drinkIds, ...drinkIds];
  if (a === undefined || b === undefined) return null;
  return { down_tube: { drinkId: a, levelFrac: 1 }, seat_tube: { drinkId: b, levelFrac: 1 } };
}

/** What a fresh bottle most likely holds: what the plan hands up next and the other cage does not hold yet. */
export function freshDrink(bike: Bike, cage: CageName, next: PlanStep | null): string {
  const planned = drinksOf(next);
  const other = bike[cage === "down_tube" ? "seat_tube" : "down_tube"].drinkId;
  const mine = bike[cage].drinkId;
  if (planned.length === 0 || planned.includes(mine)) return mine;
  return planned.find((drinkId) => drinkId !== other) ?? planned[0] ?? mine;
}

export function withBottle(bike: Bike, cage: CageName, bottle: Partial<Bottle>): Bike {
  return { ...bike, [cage]: { ...bike[cage], ...bottle } };
}
