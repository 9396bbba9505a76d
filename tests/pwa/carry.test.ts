import { describe, expect, it } from "vitest";

import { bottlesIn, type HandUp, shareOut, stillCarried } from "@/core/carry.ts";

let n = 0;
const up = (subject: string, drink: string, more: Partial<HandUp["body"]> = {}, stage = "s1"): HandUp => {
  n += 1;
  return {
    id: `e${n}`, kind: "handed_up", subject_id: subject, by: "m", device_id: "d", n, lamport: n, at_ms: n, stage_id: stage,
    body: { volume_l: 0.5, drink_id: drink, ...more },
  } as HandUp;
};

describe("bottles fetched for others", () => {
  const facts = [
    up("r1", "a"), up("r1", "a", { carried_by: "r1" }), up("r1", "w", { carried_by: "r1", n_bottles: 3, feed_km: 74 }),
    up("r2", "a", { carried_by: "r1" }), up("r1", "a", { carried_by: "r1" }, "s2"), up("r3", "a", { carried_by: "r3" }),
  ];
  const carried = stillCarried(facts, "s1", "r1");

  it("are those with the carrier on this stage: not his own, not those that have reached somebody", () => {
    expect(carried.map(({ id }) => id)).toEqual(["e3", "e2"]);
    expect(bottlesIn(carried)).toBe(4);
  });

  it("go one by one, and what is left of an entry stays with the carrier", () => {
    const share = shareOut(carried, "w");
    expect(share?.leaves.id).toBe("e3");
    expect(share?.stays).toEqual({ volume_l: 0.5, drink_id: "w", carried_by: "r1", n_bottles: 2, feed_km: 74 });
    expect(share?.goes).toEqual({ volume_l: 0.5, drink_id: "w", carried_by: "r1", n_bottles: 1, feed_km: 74 });
    expect(shareOut(carried, "a")?.stays).toBeNull();
    expect(shareOut(carried, "none")).toBeNull();
  });
});
