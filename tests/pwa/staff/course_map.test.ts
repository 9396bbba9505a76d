import { describe, expect, it } from "vitest";

import { nameAt } from "@/core/course_map.ts";
import type { Point } from "@/core/charts.ts";

const WIDTH = 362;
const HALF_PX = 28;
const roadFrom = ([x, y]: Point, deg: number): Point[] =>
  Array.from({ length: 60 }, (_, i): Point => [x + i * 4 * Math.cos((deg * Math.PI) / 180), y + i * 4 * Math.sin((deg * Math.PI) / 180)]);

describe("the name of an end of the road", () => {
  it.each([0, 30, 60, 90, 120, 150, 180, 210, 240, 270, 300, 330])("stands clear of a road that leaves at %i degrees", (deg) => {
    for (const at of [[181, 120], [30, 30], [332, 210]] as Point[]) {
      const [x, y] = nameAt(at, roadFrom(at, deg), WIDTH);
      const covered = roadFrom(at, deg).filter((p) => Math.abs(p[0] - x) < HALF_PX && p[1] < y + 2 && p[1] > y - 12);

      expect(covered, `${at}`).toEqual([]);
      expect(x - HALF_PX).toBeGreaterThanOrEqual(0);
      expect(x + HALF_PX).toBeLessThanOrEqual(WIDTH);
    }
  });
});
