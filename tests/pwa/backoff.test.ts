import { describe, expect, it } from "vitest";

import { ceilingMs, waitMs } from "@/sync/backoff.ts";

describe("waiting after failures", () => {
  it("doubles up to five minutes and is drawn at random below that", () => {
    expect([0, 1, 2, 3, 60].map(ceilingMs)).toEqual([0, 2000, 4000, 8000, 300_000]);
    expect(waitMs(3, 0, null)).toBe(0);
    expect(waitMs(3, 0.5, null)).toBe(4000);
  });

  it("never undercuts what the server asks for", () => {
    expect(waitMs(1, 0, 30)).toBe(30_000);
    expect(waitMs(9, 1, 30)).toBeGreaterThanOrEqual(30_000);
  });
});
