import { describe, expect, test } from "vitest";

import { courseMap, scaleBarKm } from "@/core/course_map.ts";
import { deficitBand, plasmaBand } from "@/core/plan_bands.ts";
import type { CoursePoint, StageForecast, StagePlan } from "@/protocol/records.ts";

const forecast = { along: [[0, 100, 0, 0, 0, 0, 20], [50, 100, 1.5, 1, 1.2, 1.5, 24], [100, 100, 3, 2, 2.6, 3.2, 26]] } as unknown as StageForecast;
const plan = { along: [[50, 0.8, 400, 0.005, 139, 141], [100, 1.6, 900, 0.014, 138.5, 143]] } as unknown as StagePlan;

describe("bands along the road", () => {
  test("what is owed is the loss less what is drunk by then", () => {
    const band = deficitBand(forecast, plan);

    expect(band.at(-1)).toMatchObject({ km: 100 });
    expect(band.at(-1)?.low).toBeCloseTo(0.4, 9);
    expect(band.at(-1)?.high).toBeCloseTo(1.6, 9);
    expect(band[1]?.mid).toBeCloseTo(0.4, 9);
  });

  test("blood sodium begins where nothing differs yet", () => {
    expect(plasmaBand(plan).map((point) => [point.km, point.low, point.high])).toEqual([[0, 140, 140], [50, 139, 141], [100, 138.5, 143]]);
  });
});

describe("a course on paper", () => {
  const square: CoursePoint[] = [[0, 0, 45, 5], [11.12, 0, 45.1, 5], [22.24, 0, 45.1, 5.1414]];

  test("north is up, it stays inside its box, and a kilometre is the same both ways", () => {
    const map = courseMap(square, 300, 200, 20);
    const [a, b, c] = map.path;

    expect((a?.[1] ?? 0) - (b?.[1] ?? 0)).toBeCloseTo(160, 0);
    expect((c?.[0] ?? 0) - (b?.[0] ?? 0)).toBeCloseTo(160, 0);
    expect(map.path.flat().every((value) => value >= 0 && value <= 300)).toBe(true);
    expect(map.placeAt(5.56)[1]).toBeCloseTo(((a?.[1] ?? 0) + (b?.[1] ?? 0)) / 2, 0);
  });

  test("the scale bar is a round length and no longer than a third", () => {
    expect([scaleBarKm(14, 300), scaleBarKm(2, 300), scaleBarKm(500, 300)]).toEqual([5, 50, 1]);
  });
});
