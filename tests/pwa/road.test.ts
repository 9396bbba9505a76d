import { describe, expect, it } from "vitest";

import { freshDrink, rollOut, withBottle } from "@/core/cage.ts";
import { kmAt, nextStep, plannedIntakeL } from "@/core/due.ts";
import { uuid7 } from "@/core/ids.ts";
import { evidenceOf, totals } from "@/core/progress.ts";
import { sectionsOf } from "@/core/sections.ts";
import type { FactEvent, PlanPoint, PlanStep, ProfilePoint, Stage } from "@/protocol/records.ts";

const step = (km: number, bottles: Record<string, number>): PlanStep => ({ feed_id: `f${km}`, feed_name: "zone", km, until_km: km + 50, bottles });
const STEPS = [step(0, { a: 1, w: 1 }), step(74, { s: 1, w: 1 }), step(118, { a: 2 })];
const PLANNED: PlanPoint[] = [[74, 1.0, 0, 0, 140, 140], [118, 2.0, 0, 0, 140, 140], [176, 3.2, 0, 0, 140, 140]];
const ALONG: ProfilePoint[] = [[0, 0, 0, 0, 0, 0, 20], [40, 0, 1, 0, 0, 0, 20], [100, 0, 3, 0, 0, 0, 20]];

const fact = (kind: string, body: unknown, more: Partial<FactEvent> = {}): FactEvent => ({
  id: `${kind}-${Math.random()}`, kind, subject_id: "r1", by: "m1", device_id: "d", n: 1, lamport: 1, at_ms: 0, body, ...more,
});

describe("what is next", () => {
  it.each([[0.5, 20], [2, 70], [3, 100]])("places a rider after %f h at km %f", (h, km) => {
    expect(kmAt(h, ALONG)).toBeCloseTo(km, 9);
  });

  it.each([-0.1, 3.1, Number.NaN])("knows no kilometre at %f h", (h) => {
    expect(kmAt(h, ALONG) ?? null).toBeNull();
  });

  it("is the first step ahead, by kilometre or else by the litres drunk", () => {
    expect(nextStep(STEPS, PLANNED, 74, 0)?.km).toBe(118);
    expect(nextStep(STEPS, PLANNED, 130, 0)).toBeNull();
    expect(nextStep(STEPS, PLANNED, null, 0.2)?.km).toBe(74);
    expect(nextStep(STEPS, PLANNED, null, 1.3)?.km).toBe(118);
    expect(nextStep(STEPS, PLANNED, null, 3.2)).toBeNull();
  });

  it("interpolates the planned intake", () => {
    expect(plannedIntakeL(PLANNED, 37)).toBeCloseTo(0.5, 9);
    expect(plannedIntakeL(PLANNED, 300)).toBeCloseTo(3.2, 9);
  });
});

describe("the two bottles", () => {
  it("start full, as planned, and a fresh one holds what the plan hands up next", () => {
    const bike = rollOut(STEPS[0], ["a", "s", "w"]);
    expect(bike).toEqual({ down_tube: { drinkId: "a", levelFrac: 1 }, seat_tube: { drinkId: "w", levelFrac: 1 } });
    if (bike === null) return;
    expect(freshDrink(bike, "down_tube", STEPS[1] ?? null)).toBe("s");
    expect(freshDrink(bike, "seat_tube", STEPS[1] ?? null)).toBe("w");
    expect(withBottle(bike, "down_tube", { levelFrac: 0.5 }).down_tube).toEqual({ drinkId: "a", levelFrac: 0.5 });
    expect(rollOut(null, [])).toBeNull();
  });
});

describe("totals", () => {
  it("add up bottles and know the best evidence", () => {
    const sums = totals([
      fact("drank", { volume_l: 0.25, how: "level" }), fact("drank", { volume_l: 0.5, how: "recall" }),
      fact("handed_up", { volume_l: 0.5, n_bottles: 2, drink_id: "a" }), fact("came_back", { left_l: 0.1, how: "weighed" }),
    ]);
    expect(sums).toMatchObject({ drankL: 0.75, handedUpL: 1, cameBackL: 0.1, drankEvidence: "tapped" });
    expect(totals([]).drankEvidence).toBeNull();
    expect(evidenceOf(fact("came_back", { how: "weighed" }))).toBe("weighed");
  });
});

describe("sections of road", () => {
  it("run from start to finish between zones, without gaps", () => {
    const stage = {
      id: "s", number: 1, day_index: 1, name: "x", kind: "flat", start_at_ms: 0, time_zone: "UTC", km0_km: 4,
      course: [[0, 0, 0, 0], [180, 0, 0, 0]],
      feed_points: [{ id: "c", name: "car", kind: "car", km: 90 }, { id: "z", name: "zone", kind: "zone", km: 74 }, { id: "f", name: "go", kind: "start", km: 0 }],
    } as Stage;
    expect(sectionsOf(stage).map(({ fromKm, toKm }) => [fromKm, toKm])).toEqual([[0, 74], [74, 176]]);
  });
});

describe("ids", () => {
  it("are version 7 UUIDs that sort by time", () => {
    const early = uuid7(1_700_000_000_000, new Uint8Array(10).fill(255));
    const late = uuid7(1_700_000_000_001, new Uint8Array(10));
    expect(early).toMatch(/^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
    expect(early < late).toBe(true);
  });
});
