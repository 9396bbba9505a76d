/** Bottles a rider fetched for others: with him until they are shared out, one by one. */

import type { FactEvent, HandedUpBody } from "@/protocol/records.ts";

export type HandUp = FactEvent<HandedUpBody>;

/** What is still with the carrier, the latest first: handed to him, and said to be for others. */
export function stillCarried(facts: Iterable<FactEvent>, stageId: string | null, carrierId: string): HandUp[] {
  return [...facts].filter((fact): fact is HandUp => {
    const { carried_by: carrier } = fact.body as Partial<HandedUpBody>;
    return fact.kind === "handed_up" && (fact.stage_id ?? null) === stageId && fact.subject_id === carrierId && carrier === carrierId;
  }).sort((a, b) => b.at_ms - a.at_ms || (a.id < b.id ? 1 : -1));
}

export const bottlesIn = (facts: readonly HandUp[]): number => facts.reduce((n, { body }) => n + (body.n_bottles ?? 1), 0);

/** One bottle goes from the carrier to a rider: the entry it leaves, what stays of it, and what the rider has. */
export interface Share {
  readonly leaves: HandUp;
  readonly stays: HandedUpBody | null;
  readonly goes: HandedUpBody;
}

/** Null when none of that drink is carried. Its feed point stays: that is where it came from. */
export function shareOut(carried: readonly HandUp[], drinkId: string): Share | null {
  const leaves = carried.find(({ body }) => body.drink_id === drinkId);
  if (leaves === undefined) return null;
  const n = leaves.body.n_bottles ?? 1;
  return { leaves, stays: n > 1 ? { ...leaves.body, n_bottles: n - 1 } : null, goes: { ...leaves.body, n_bottles: 1 } };
}
