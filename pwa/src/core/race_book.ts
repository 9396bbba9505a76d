/** A stage as typed in the race book, and back: nothing typed is lost, every fault names its field. */

import { checked, type FieldIssue, type FieldRule } from "@/core/sweat_day.ts";
import { instantOf, isTimeZone, wallTime } from "@/core/zone.ts";
import type { FeedPoint, Stage, StageKind } from "@/protocol/records.ts";

export interface TypedFeed {
  id: string;
  name: string;
  kind: FeedPoint["kind"];
  km: string;
}

export interface TypedStage {
  name: string;
  kind: StageKind;
  number: string;
  start: string;
  timeZone: string;
  km0: string;
  duration: string;
  note: string;
  feeds: readonly TypedFeed[];
}

export const STAGE_FIELDS = {
  number: { name: "number", unit: "", low: 1, high: 30 },
  km0: { name: "km0_km", unit: "km", low: 0, high: 400, isOptional: true },
  duration: { name: "scheduled_duration_h", unit: "h", low: 0.1, high: 10, isOptional: true },
  feedKm: { name: "km", unit: "km", low: 0, high: 400 },
} as const satisfies Record<string, FieldRule>;

export type StageFault =
  | { field: "number" | "km0" | "duration"; issue: FieldIssue }
  | { field: "name" | "start" | "timeZone"; issue: "empty" | "unreadable" }
  | { field: "feed"; feedId: string; issue: FieldIssue | "beyond_course" };

export function typedOf(stage: Stage): TypedStage {
  return {
    name: stage.name, kind: stage.kind, number: String(stage.number), timeZone: stage.time_zone,
    start: wallTime(stage.start_at_ms, stage.time_zone),
    km0: String(stage.km0_km ?? 0),
    duration: stage.scheduled_duration_h === null || stage.scheduled_duration_h === undefined ? "" : String(stage.scheduled_duration_h),
    note: stage.note ?? "",
    feeds: (stage.feed_points ?? []).map((feed) => ({ id: feed.id, name: feed.name, kind: feed.kind, km: String(feed.km) })),
  };
}

const sameText = (a: unknown, b: unknown): boolean => JSON.stringify(a) === JSON.stringify(b);
const TYPED_FIELDS = ["name", "kind", "number", "start", "timeZone", "km0", "duration", "note", "feeds"] as const satisfies (keyof TypedStage)[];

/**
 * What stands in the fields once somebody else has saved the stage: what was not touched here follows theirs, what was
 * typed here stays. `clashes` names the fields that both have changed, each in another way.
 */
export function caughtUp(typed: TypedStage, opened: Stage, now: Stage): { typed: TypedStage; clashes: (keyof TypedStage)[] } {
  const [before, after] = [typedOf(opened), typedOf(now)];
  const touched = TYPED_FIELDS.filter((field) => !sameText(typed[field], before[field]));
  const mine = Object.fromEntries(touched.map((field) => [field, typed[field]]));
  const clashes = touched.filter((field) => !sameText(before[field], after[field]) && !sameText(typed[field], after[field]));
  return { typed: { ...after, ...mine }, clashes };
}

/** Kilometres from the real start to the end of the uploaded course; null without a course. */
export function raceLengthKm(stage: Stage): number | null {
  const last = stage.course?.at(-1);
  return last === undefined ? null : Math.max(0, last[0] - (stage.km0_km ?? 0));
}

/** Every fault of a typed stage, in the order of the form. */
export function stageFaults(typed: TypedStage, lengthKm: number | null): StageFault[] {
  return [...wordFaults(typed), ...figureFaults(typed), ...feedFaults(typed, lengthKm)];
}

function wordFaults(typed: TypedStage): StageFault[] {
  const found: StageFault[] = [];
  if (typed.name.trim() === "") found.push({ field: "name", issue: "empty" });
  const isZone = isTimeZone(typed.timeZone.trim());
  if (!isZone) found.push({ field: "timeZone", issue: "unreadable" });
  if (isZone && instantOf(typed.start, typed.timeZone.trim()) === null) found.push({ field: "start", issue: "unreadable" });
  return found;
}

function figureFaults(typed: TypedStage): StageFault[] {
  return (["number", "km0", "duration"] as const).flatMap((field): StageFault[] => {
    const { issue } = checked(typed[field], STAGE_FIELDS[field]);
    return issue === null ? [] : [{ field, issue }];
  });
}

function feedFaults(typed: TypedStage, lengthKm: number | null): StageFault[] {
  return typed.feeds.flatMap((feed): StageFault[] => {
    const { value, issue } = checked(feed.km, STAGE_FIELDS.feedKm);
    if (issue !== null) return [{ field: "feed", feedId: feed.id, issue }];
    const isBeyond = lengthKm !== null && value !== null && value > lengthKm;
    return isBeyond ? [{ field: "feed", feedId: feed.id, issue: "beyond_course" }] : [];
  });
}

/** The record to send. Call it only when there is no fault; the untouched parts of the stage stay as they are. */
export function stageFrom(typed: TypedStage, stage: Stage): Stage {
  const zone = typed.timeZone.trim();
  const duration = checked(typed.duration, STAGE_FIELDS.duration).value;
  const feeds = typed.feeds.map((feed): FeedPoint => ({
    id: feed.id, name: feed.name.trim() === "" ? feed.id : feed.name.trim(), kind: feed.kind,
    km: checked(feed.km, STAGE_FIELDS.feedKm).value ?? 0,
  }));
  return {
    ...stage, name: typed.name.trim(), kind: typed.kind, number: checked(typed.number, STAGE_FIELDS.number).value ?? stage.number,
    start_at_ms: instantOf(typed.start, zone) ?? stage.start_at_ms, time_zone: zone,
    km0_km: checked(typed.km0, STAGE_FIELDS.km0).value ?? 0, scheduled_duration_h: duration, note: typed.note,
    feed_points: feeds.sort((a, b) => a.km - b.km),
  };
}

/** An id for a new feed point that no other one of the stage has. */
export function nextFeedId(feeds: readonly TypedFeed[]): string {
  for (let n = feeds.length + 1; ; n += 1) {
    const id = `feed-${n}`;
    if (!feeds.some((feed) => feed.id === id)) return id;
  }
}

/** Whether a table of kilometres and heights says where its road lies. */
export function hasPlaces(table: string): boolean {
  const names = (table.trim().split("\n")[0] ?? "").toLowerCase().split(/[;,\t]/).map((name) => name.trim());
  return names.includes("lat") && names.includes("lon");
}

/** Where the nearest earlier road ends, or else where the next one begins: a place to start from. */
export function placeNear(all: readonly Stage[], stage: Stage): { latitudeDeg: number; longitudeDeg: number } | null {
  const roads = all.filter((one) => one.id !== stage.id && (one.course ?? []).length > 1);
  const before = roads.filter((one) => one.day_index < stage.day_index).at(-1)?.course?.at(-1);
  const point = stage.course?.[0] ?? before ?? roads[0]?.course?.[0];
  return point === undefined ? null : { latitudeDeg: point[2], longitudeDeg: point[3] };
}
