import { describe, expect, test } from "vitest";

import { againstOwnLine, forecastScore, longestRun, tally, type DayMark } from "@/core/three_weeks.ts";
import { instantOf, isTimeZone, wallTime } from "@/core/zone.ts";
import type { AuditRow, LaneWord } from "@/protocol/records.ts";

function days(...words: LaneWord[]): DayMark[] {
  return words.map((word, i) => ({ stageNumber: i + 1, word, isSettled: word !== "nothing_noted" }));
}

describe("runs", () => {
  test("the longest run on one side is named with its stages", () => {
    expect(longestRun(days("dry", "in_lane", "wet", "dry", "dry", "dry", "in_lane")))
      .toEqual({ side: "dry", from: 4, to: 6, length: 3 });
  });

  test("a stage nobody noted breaks a run, it never joins two", () => {
    expect(longestRun(days("dry", "nothing_noted", "dry"))?.length).toBe(1);
  });

  test("no side, no run", () => {
    expect(longestRun(days("in_lane", "cant_tell"))).toBeNull();
  });

  test("noted, settled and in lane are counted apart", () => {
    const marks = days("dry", "in_lane", "nothing_noted", "wet");

    expect(tally([...marks, { stageNumber: 5, word: "in_lane", isSettled: false }]))
      .toEqual({ nNoted: 4, nSettled: 3, nDry: 1, nIn: 2, nWet: 1 });
  });
});

describe("how good the forecasts were", () => {
  const rows: AuditRow[] = [["a", 2, 4, 5, false], ["a", 3, 4.5, 4, true], ["a", 16, 4.1, 4, true], ["b", 17, 3.9, 4, true]];

  test("bias keeps its sign, error does not", () => {
    const first = forecastScore(rows, 1, 7);

    expect(first?.biasL).toBeCloseTo(-0.25, 9);
    expect(first?.meanAbsoluteErrorL).toBeCloseTo(0.75, 9);
    expect(first?.coverageFrac).toBe(0.5);
  });

  test("the third week is judged by its own stages", () => {
    expect(forecastScore(rows, 15, 21)).toMatchObject({ n: 2, coverageFrac: 1 });
    expect(forecastScore(rows, 8, 14)).toBeNull();
  });
});

test("mass stands against the rider's own first three weighings", () => {
  const line = againstOwnLine([70, null, 70, 70, 68.6]);

  expect(line.map((v) => (v === null ? null : Math.round(v * 1000)))).toEqual([0, null, 0, 0, -20]);
  expect(againstOwnLine([null, null])).toEqual([null, null]);
});

describe("stage-local time", () => {
  test("a wall time survives the way to UTC and back, summer and winter", () => {
    for (const wall of ["2026-07-04T12:40", "2026-01-15T09:05"]) {
      const at = instantOf(wall, "Europe/Paris");
      expect(at).not.toBeNull();
      expect(wallTime(at ?? 0, "Europe/Paris")).toBe(wall);
    }
    expect(instantOf("2026-07-04T12:40", "Europe/Paris")).toBe(Date.UTC(2026, 6, 4, 10, 40));
  });

  test("a broken wall time is refused, an unknown zone is no zone", () => {
    expect(instantOf("soon", "Europe/Paris")).toBeNull();
    expect([isTimeZone("Europe/Rome"), isTimeZone("Europe/Nowhere")]).toEqual([true, false]);
  });
});
