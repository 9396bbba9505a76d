/** Files of rides: what one is, whose it may be, and what it takes the place of. Pure. */

import { instantOf, wallTime } from "@/core/zone.ts";
import type { FactEvent, Rider, RiddenBody, StageForecast } from "@/protocol/records.ts";

export type FileKind = "ride" | "road_or_ride" | "road" | "weather";

const HEAD_CHARACTERS = 4000;
/** Bytes 8 to 11 of a FIT file spell its name. */
const FIT_MARK = ".FIT";

/** What a file is by its name and its first characters; a track with times can be the road or somebody's ride. */
export function fileKind(name: string, text: string): FileKind {
  const head = text.slice(0, HEAD_CHARACTERS);
  if (/\.(fit|tcx)$/i.test(name) || head.slice(8, 12) === FIT_MARK || /<TrainingCenterDatabase[\s>]/.test(head)) return "ride";
  if (!/\.gpx$/i.test(name) && !/<gpx[\s>]/i.test(head)) return "weather";
  return /<trkpt[^>]*>(?:(?!<\/trkpt>)[\s\S])*<time>/.test(head) ? "road_or_ride" : "road";
}

const wordsOf = (text: string): string[] =>
  text.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase().split(/[^a-z0-9]+/).filter((word) => word !== "");

/** The one rider whose race number or family name stands in a file's name; null when none or several do. */
export function riderOfFile(name: string, riders: readonly Rider[]): Rider | null {
  const words = wordsOf(name.replace(/\.[a-z]+$/i, ""));
  const byName = riders.filter((rider) => words.includes(wordsOf(rider.name).at(-1) ?? "-"));
  if (byName.length === 1) return byName[0] ?? null;
  const byNumber = riders.filter((rider) => words.some((word) => /^\d+$/.test(word) && Number(word) === rider.race_number));
  return byNumber.length === 1 ? (byNumber[0] ?? null) : null;
}

const DAY_MS = 86_400_000;

/** The figures a settlement works with, from a recording or from the forecast. */
export interface RideFigures {
  readonly durationH: number;
  readonly lengthKm: number | null;
  readonly powerW: number | null;
}

export const figuresOf = (body: RiddenBody): RideFigures => ({
  durationH: body.duration_h, lengthKm: body.length_km, powerW: (body.missing_power_frac ?? 0) >= 1 ? null : (body.mean_power_w ?? 0),
});

export const figuresExpected = (forecast: StageForecast): RideFigures => ({
  durationH: forecast.duration_h, lengthKm: forecast.along.at(-1)?.[0] ?? null, powerW: forecast.mean_power_w,
});

/** The last recording somebody read in for a rider's stage. */
export function recordedOf(events: Iterable<FactEvent>, riderId: string, stageId: string): FactEvent<RiddenBody> | null {
  let last: FactEvent<RiddenBody> | null = null;
  for (const event of events) {
    if (event.kind !== "ridden" || event.subject_id !== riderId || event.stage_id !== stageId) continue;
    if (last === null || event.lamport > last.lamport) last = event as FactEvent<RiddenBody>;
  }
  return last;
}

/** "13:05" on the day of the start, or the day after for a race into the night; null for what is no time of day. */
export function timeOfDay(time: string, startMs: number, timeZone: string): number | null {
  const found = /^([01]?\d|2[0-3])[:.]([0-5]\d)$/.exec(time.trim());
  if (found === null) return null;
  const at = (onMs: number): number | null => instantOf(`${wallTime(onMs, timeZone).slice(0, 10)}T${found[1]}:${found[2]}`, timeZone);
  const sameDay = at(startMs);
  return sameDay !== null && startMs - sameDay > DAY_MS / 2 ? at(startMs + DAY_MS) : sameDay;
}
