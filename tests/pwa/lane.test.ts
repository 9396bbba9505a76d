import { describe, expect, it } from "vitest";

import { acrossRoad, laneDots, stackedDots, VERGE_FRAC } from "@/core/lane.ts";

const spread = (sdL: number): number[] => Array.from({ length: 20 }, (_, i) => 4 + sdL * ((i - 9.5) / 5.77));
const at = (intakeL: number, sdL = 0.3) => laneDots({ quantilesL: spread(sdL), intakeL, lowL: 2.5, highL: 3.5 });

describe("the Lane", () => {
  it("puts a median loss that owes half of what the plan allows into the middle of the lane", () => {
    const { positions } = at(3.25);
    expect((positions[9] as number) + (positions[10] as number)).toBeCloseTo(1, 6);
  });

  it("calls an end wet when more was drunk than lost, and dry when more is owed than the plan allows", () => {
    const one = (lossL: number, intakeL: number) => laneDots({ quantilesL: [lossL], intakeL, lowL: lossL - 1.5, highL: lossL });
    expect(one(4, 4.01).nWet).toBe(1);
    expect(one(4, 3.99).nIn).toBe(1);
    expect(one(4, 2.51).nIn).toBe(1);
    expect(one(4, 2.49).nDry).toBe(1);
  });

  it("can't tell when the kerbs meet", () => {
    expect(laneDots({ quantilesL: spread(0.3), intakeL: 3, lowL: 3.4, highL: 3.4 }).word).toBe("cant_tell");
  });

  it.each([[3.0, "in_lane"], [1.5, "dry"], [4.6, "wet"]] as const)("calls an intake of %f L %s", (intakeL, word) => {
    expect(at(intakeL).word).toBe(word);
  });

  it("says can't tell when both kerbs are crossed by three dots or more", () => {
    expect(at(3.25, 0.9).word).toBe("cant_tell");
  });

  it("says nothing noted without an intake", () => {
    expect(laneDots({ quantilesL: spread(0.3), intakeL: null, lowL: 2, highL: 3 }).word).toBe("nothing_noted");
  });

  it("counts twenty dots and moves none to the wet side when less is drunk", () => {
    const more = at(3.6);
    const less = at(3.2);
    expect(less.nDry + less.nIn + less.nWet).toBe(20);
    expect(less.nWet).toBeLessThanOrEqual(more.nWet);
    expect(less.nDry).toBeGreaterThanOrEqual(more.nDry);
  });

  it("keeps every drawn dot on its own side of the kerbs and on the paper", () => {
    const width = 358;
    const left = VERGE_FRAC * width;
    for (const intakeL of [0.5, 2.4, 3.0, 3.6, 6.0]) {
      const dots = stackedDots(at(intakeL).positions, width, 60, 9);
      expect(dots).toHaveLength(20);
      for (const { x, y, side } of dots) {
        expect(side === "dry" ? x < left : side === "wet" ? x > width - left : x > left && x < width - left).toBe(true);
        expect(y).toBeGreaterThanOrEqual(0);
        expect(y).toBeLessThanOrEqual(60);
      }
    }
  });

  it("never lets one dot hide another, not even when all twenty lie on one side", () => {
    for (const intakeL of [0.1, 3.0, 9.0]) {
      const dots = stackedDots(at(intakeL, 0.05).positions, 358, 40, 9);
      const nearest = dots.flatMap((one, i) => dots.slice(i + 1).map((other) => Math.hypot(one.x - other.x, one.y - other.y)));
      expect(Math.min(...nearest)).toBeGreaterThanOrEqual(9);
    }
  });

  it("stops far marks at the margin", () => {
    expect(acrossRoad(-9, 44, 6)).toBe(6);
    expect(acrossRoad(9, 44, 6)).toBe(38);
  });
});
