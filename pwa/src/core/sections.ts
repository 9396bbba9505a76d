/** The road cut at its feed points: recall runs per section between landmarks, never by the clock. */

import type { FactEvent, FeedPoint, Stage } from "@/protocol/records.ts";
import type { DrankBody } from "@/protocol/records.ts";

export interface Section {
  readonly fromKm: number;
  readonly toKm: number;
  /** Where the section begins: null for the start. */
  readonly from: FeedPoint | null;
  readonly isLast: boolean;
}

/** Length of the race from the real start [km]. */
export function finishKm(stage: Stage): number {
  const last = stage.course?.at(-1)?.[0] ?? 0;
  const feeds = (stage.feed_points ?? []).map((feed) => feed.km);
  return Math.max(last - (stage.km0_km ?? 0), ...feeds, 1);
}

/** Sections between zones; a car window cuts the road only where no zone does. */
export function sectionsOf(stage: Stage): Section[] {
  const finish = finishKm(stage);
  const feeds = (stage.feed_points ?? []).filter((feed) => feed.kind !== "start" && feed.km > 0 && feed.km < finish);
  const zones = feeds.filter((feed) => feed.kind === "zone");
  const cuts = [...(zones.length > 0 ? zones : feeds)].sort((a, b) => a.km - b.km);
  return [null, ...cuts].map((from, i) => ({
    from, fromKm: from?.km ?? 0, toKm: cuts[i]?.km ?? finish, isLast: i === cuts.length,
  }));
}

const isRecallOf = (event: FactEvent, section: Section): boolean => {
  const body = event.body as DrankBody;
  return event.kind === "drank" && body.how === "recall" && body.from_km === section.fromKm && body.to_km === section.toKm;
};

/** Entries already recalled for a section. */
export const recalledIn = (facts: readonly FactEvent[], section: Section): FactEvent[] =>
  facts.filter((event) => isRecallOf(event, section));
