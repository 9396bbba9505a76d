/** What the hands' screens read of the book: riders, drinks, and the bottles of one rider on the stage on screen. */

import { type HandUp, stillCarried } from "@/core/carry.ts";
import { byName } from "@/core/display.ts";
import type { CameBackBody, Drink, FactEvent, HandedUpBody, Rider } from "@/protocol/records.ts";
import { currentStageId, docsOf, folded } from "@/store/state.ts";

export const ridersByNumber = (): Rider[] => docsOf("rider").sort((a, b) => a.race_number - b.race_number);
export const drinksByName = (): Drink[] => docsOf("drink").sort((a, b) => byName(a.short_name, b.short_name));

function factsHere<B>(kind: string, riderId: string): FactEvent<B>[] {
  return [...folded.value.live.values()]
    .filter((event) => event.kind === kind && event.subject_id === riderId && event.stage_id === currentStageId.value)
    .sort((a, b) => a.at_ms - b.at_ms) as FactEvent<B>[];
}

export const handedUpTo = (riderId: string): FactEvent<HandedUpBody>[] => factsHere("handed_up", riderId);
export const cameBackFrom = (riderId: string): FactEvent<CameBackBody>[] => factsHere("came_back", riderId);

/** Bottles this rider fetched for others and has not shared out yet. */
export const carriedBy = (riderId: string): HandUp[] => stillCarried(folded.value.live.values(), currentStageId.value, riderId);

/** Bottles per drink. */
export function countsOf(facts: readonly FactEvent<HandedUpBody>[]): [drinkId: string, n: number][] {
  const byDrink = new Map<string, number>();
  for (const { body } of facts) byDrink.set(body.drink_id, (byDrink.get(body.drink_id) ?? 0) + (body.n_bottles ?? 1));
  return [...byDrink];
}

/** "2 S · 1 W" */
export function countWords(counts: readonly (readonly [drinkId: string, n: number])[]): string {
  const name = (id: string): string => drinksByName().find((drink) => drink.id === id)?.short_name ?? id;
  return counts.filter(([, n]) => n > 0).map(([id, n]) => `${n} ${name(id)}`).join(" · ");
}
