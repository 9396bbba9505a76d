/** Instants that belong to no stage, and names that come twice: what lists of devices, looks and answers say. No road needs it. */

import { kept, stageDay, stageTime, tongue } from "@/core/display.ts";

/** Where this device stands: for times that belong to no stage. */
const hereZone = (): string => Intl.DateTimeFormat().resolvedOptions().timeZone;

/** An instant that belongs to no stage, whole: it is read months later, and by people in other countries. */
export function momentHere(atMs: number): string {
  const options = { day: "numeric", month: "short", year: "numeric", hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZoneName: "short" } as const;
  return kept(`${tongue} moment`, () => new Intl.DateTimeFormat(tongue, options)).format(atMs);
}

export function dayHere(atMs: number): string {
  return kept(`${tongue} day`, () => new Intl.DateTimeFormat(tongue, { day: "numeric", month: "short", year: "numeric" })).format(atMs);
}

/** The time alone while it is still that day here; else the day comes first. */
export function latelyHere(atMs: number, nowMs: number): string {
  const time = stageTime(atMs, hereZone());
  return stageDay(atMs, hereZone()) === stageDay(nowMs, hereZone()) && nowMs - atMs < 86_400_000 ? time : `${stageDay(atMs, hereZone())} ${time}`;
}

/** Names as they are, and those that come again with their number, so that each can be told from the others. */
export function toldApart(names: readonly string[]): string[] {
  const seen = new Map<string, number>();
  return names.map((name) => {
    const n = (seen.get(name) ?? 0) + 1;
    seen.set(name, n);
    return n === 1 ? name : `${name} (${n})`;
  });
}
