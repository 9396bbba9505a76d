import { describe, expect, test } from "vitest";

import {
  bandPath, ceiling, groundPath, linear, MINI_KERB_LEFT, MINI_KERB_RIGHT, miniLane, medianOfThree, sparkline, stepPath,
  thinned, ticks, type Point,
} from "@/core/charts.ts";

const FRAME = { width: 100, height: 20, left: 0, right: 0, top: 0, bottom: 0 };

describe("scales", () => {
  test("a straight scale maps both ends", () => {
    const y = linear([0, 4], [200, 0]);

    expect([y(0), y(2), y(4)]).toEqual([200, 100, 0]);
  });

  test("a flat domain never divides by zero", () => {
    expect(linear([3, 3], [10, 90])(3)).toBe(10);
  });

  test("ticks stand on 1-2-5 steps and have no float dust", () => {
    expect(ticks(0, 0.6, 3)).toEqual([0, 0.2, 0.4, 0.6]);
    expect(ticks(0, 180, 5)).toEqual([0, 50, 100, 150]);
  });

  test("the top of the axis is never below the greatest value", () => {
    for (const high of [0.3, 1, 2.49, 4.01, 6.2, 11]) expect(ceiling(high, 4)).toBeGreaterThanOrEqual(high);
  });
});

describe("paths", () => {
  const upper: Point[] = [[0, 1], [10, 2]];
  const lower: Point[] = [[0, 5], [10, 6]];

  test("a band runs along its upper edge and back along its lower one", () => {
    expect(bandPath(upper, lower)).toBe("M0 1L10 2L10 6L0 5Z");
  });

  test("one point makes no band", () => {
    expect(bandPath([[0, 1]], [[0, 2]])).toBe("");
  });

  test("planned intake rises in steps", () => {
    expect(stepPath([[0, 9], [5, 7], [8, 4]])).toBe("M0 9H5V7H8V4");
  });

  test("ground closes on its base line", () => {
    expect(groundPath(upper, 20)).toBe("M0 1L10 2L10 20L0 20Z");
  });

  test("a sparkline lifts the pen over a day without a weighing", () => {
    const path = sparkline([0, 1, null, 1, 0], FRAME, 0, 1);

    expect(path.match(/M/g)).toHaveLength(2);
    expect(path).toBe("M0 20L25 0M75 0L100 20");
  });

  test("thinning keeps both ends of the course", () => {
    const course = Array.from({ length: 4000 }, (_, i) => i);
    const kept = thinned(course, 200);

    expect(kept).toHaveLength(200);
    expect([kept[0], kept[199]]).toEqual([0, 3999]);
  });

  test("a running median ignores holes", () => {
    expect(medianOfThree([1, null, 3, null, null, null])).toEqual([1, 1, 2, 3, 3, null]);
  });
});

describe("the mini-lane", () => {
  test("nothing noted draws nothing", () => {
    expect(miniLane("nothing_noted", 0.5, 0.2).shape).toBe("none");
  });

  test("the word rules the side, whatever the share says", () => {
    expect(miniLane("dry", 0.9, 0.1).x).toBeLessThan(MINI_KERB_LEFT);
    expect(miniLane("wet", 0.1, 0.1).x).toBeGreaterThan(MINI_KERB_RIGHT);
    expect(miniLane("in_lane", -4, 0.1).x).toBeGreaterThan(MINI_KERB_LEFT);
    expect(miniLane("in_lane", 4, 0.1).x).toBeLessThan(MINI_KERB_RIGHT);
  });

  test("three sides have three shapes", () => {
    const shapes = (["dry", "in_lane", "wet"] as const).map((word) => miniLane(word, null, 0.1).shape);

    expect(new Set(shapes).size).toBe(3);
  });

  test("a wider spread makes a wider mark inside the kerbs", () => {
    expect(miniLane("in_lane", 0.5, 0.4).halfWidth).toBeGreaterThan(miniLane("in_lane", 0.5, 0.05).halfWidth);
  });
});
