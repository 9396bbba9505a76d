import { describe, expect, test } from "vitest";

import { inSettleOrder, needsReason, rangeOf, sanity, settleRow, stageFacts } from "@/core/settle.ts";
import type { FactEvent, Settlement } from "@/protocol/records.ts";

let n = 0;
function fact(kind: string, body: unknown, more: Partial<FactEvent> = {}): FactEvent {
  n += 1;
  return {
    id: `00000000-0000-7000-8000-${String(n).padStart(12, "0")}`, kind, subject_id: "r41", by: "ana", device_id: "d1", n,
    lamport: n, at_ms: 1_750_000_000_000 + n, stage_id: "s12", body, ...more,
  };
}

function settlement(more: Partial<Settlement> = {}): Settlement {
  return {
    id: "settlement:r41:s12", rider_id: "r41", basis: { engine_version: "1", input_ids: [] }, stage_id: "s12",
    stage_number: 12, state: "proposed", handed_up_l: 4, came_back_l: 0.55, poured_l: 0.5, lost_l: 0, noted_drunk_l: 2.35,
    derived_drunk_l: 2.95, proposed_drunk_l: 2.95, drunk_sd_l: 0.2, drunk_evidence: "counted", lane: "in_lane", ...more,
  };
}

const BOTTLES = [
  fact("handed_up", { n_bottles: 8, volume_l: 0.5, drink_id: "std" }),
  fact("came_back", { left_l: 0.55, how: "weighed" }),
  fact("poured", { volume_l: 0.5 }),
  fact("drank", { volume_l: 2.35, how: "level" }),
];
const SCALES = [
  fact("weighed", { moment: "before", mass_kg: 69.1 }),
  fact("weighed", { moment: "after", mass_kg: 67.4, food_kg: 0.3, urine_l: 0.2 }),
];

function rowOf(events: FactEvent[], doc: Settlement | null = null) {
  return settleRow("r41", stageFacts(events, "r41", "s12"), doc);
}

describe("the row", () => {
  test("derived is handed up less back, poured and lost", () => {
    const row = rowOf(BOTTLES);

    expect(row.derivedL).toBeCloseTo(2.95, 9);
    expect(row.proposedL).toBeCloseTo(2.95, 9);
    expect(row.up.evidence).toBe("counted");
    expect(row.back.evidence).toBe("weighed");
  });

  test("a sum is only as well known as its weakest part", () => {
    const row = rowOf([...BOTTLES, fact("drank", { volume_l: 0.5, how: "recall" })]);

    expect(row.noted.evidence).toBe("recalled");
  });

  test("without a phone's facts the server's figures stand", () => {
    const row = rowOf([], settlement({ agreed_drunk_l: 2.9, agreed_by: "ana" }));

    expect([row.up.value, row.agreedL, row.agreedBy, row.state]).toEqual([4, 2.9, "ana", "settled"]);
  });

  test("a figure agreed offline settles the row at once", () => {
    const row = rowOf([...BOTTLES, ...SCALES, fact("agreed", { drunk_l: 2.95 })], settlement());

    expect([row.state, row.agreedL]).toEqual(["settled", 2.95]);
  });

  test("a row opened again offline is no longer settled, whatever the older settlement says", () => {
    const events = [...BOTTLES, ...SCALES, fact("agreed", { drunk_l: 2.95 }), fact("reopened", { reason: "bottle found" })];
    const row = rowOf(events, settlement({ agreed_drunk_l: 2.95, agreed_by: "ana", state: "settled" }));

    expect([row.state, row.agreedL, row.agreedBy]).toEqual(["proposed", null, null]);
  });

  test("other riders and other stages add nothing", () => {
    const foreign = [fact("drank", { volume_l: 9, how: "level" }, { subject_id: "r42" }),
      fact("drank", { volume_l: 9, how: "level" }, { stage_id: "s11" })];

    expect(rowOf([...BOTTLES, ...foreign]).noted.value).toBeCloseTo(2.35, 9);
  });

  test("nothing handed up and nothing noted is no proposal of zero litres", () => {
    const blank = settlement({ handed_up_l: 0, noted_drunk_l: 0, derived_drunk_l: 0, proposed_drunk_l: 0 });
    const row = rowOf(SCALES, blank);

    expect([row.derivedL, row.proposedL, row.state]).toEqual([null, null, "open"]);
  });

  test("no weigh-in leaves the row open", () => {
    expect([rowOf(BOTTLES).state, rowOf(BOTTLES).missing]).toEqual(["open", "before"]);
  });
});

describe("reasons and order", () => {
  test("a typed figure beside the proposed one needs a reason, the same figure does not", () => {
    expect([needsReason(2.95, 2.95), needsReason(2.96, 2.95), needsReason(3.2, 2.95), needsReason(3, null)])
      .toEqual([false, false, true, false]);
  });

  test("the least settled comes first", () => {
    const open = { row: rowOf(BOTTLES), raceNumber: 48 };
    const settled = { row: rowOf([...BOTTLES, fact("agreed", { drunk_l: 2 })]), raceNumber: 41 };
    const proposed = { row: rowOf([...BOTTLES, ...SCALES]), raceNumber: 42 };

    expect(inSettleOrder([settled, proposed, open]).map((r) => r.raceNumber)).toEqual([48, 42, 41]);
  });
});

describe("the check in words", () => {
  function codes(events: FactEvent[], doc: Settlement | null = null): string[] {
    return sanity(rowOf(events, doc)).map((s) => s.code);
  }

  test("litres nobody noted are said", () => {
    const found = sanity(rowOf([...BOTTLES, ...SCALES]));

    expect(found.map((s) => s.code)).toEqual(["unseen"]);
    expect(found[0]?.values["gap"]).toBeCloseTo(0.6, 9);
  });

  test("heavier after than before is a medical sentence", () => {
    const found = sanity(rowOf([SCALES[0] as FactEvent, fact("weighed", { moment: "after", mass_kg: 69.6 })]));

    expect(found).toMatchObject([{ code: "heavier", severity: "medical" }]);
  });

  test("a sweat loss far from the forecast asks for the scale again", () => {
    const doc = settlement({ sweat_loss_l: 6.5, predicted_q10_l: 3.6, predicted_q90_l: 4.6 });

    expect(codes(SCALES, doc)).toContain("sweat_high");
    expect(codes(SCALES, { ...doc, sweat_loss_l: 4.2 })).not.toContain("sweat_high");
  });

  test("noting more than was handed up is said", () => {
    expect(codes([...BOTTLES, ...SCALES, fact("drank", { volume_l: 1.5, how: "count" })])).toEqual(["over_noted"]);
  });
});

describe("what may be noted twice", () => {
  const noted = (id: string, kind: string, body: object): FactEvent =>
    ({ id, kind, subject_id: "r1", stage_id: "s1", by: "m", device_id: "d", n: 1, lamport: 1, at_ms: 1, body }) as FactEvent;
  const bottles = [1, 2, 3, 4].map((n) => noted(`u${n}`, "handed_up", { volume_l: 0.5, drink_id: "a" }));

  it("is a range: a bottle more up is too much, a bottle more back too little", () => {
    expect(rangeOf(bottles, new Set(), "r1", "s1")).toBeNull();
    expect(rangeOf(bottles, new Set(["u4"]), "r1", "s1")).toEqual([1.5, 2]);
    const back = [...bottles, noted("b1", "came_back", { left_l: 0.25, how: "counted" }), noted("b2", "came_back", { left_l: 0.25, how: "counted" })];
    expect(rangeOf(back, new Set(["b2"]), "r1", "s1")).toEqual([1.5, 1.75]);
    expect(rangeOf(back, new Set(["b2", "u4"]), "r1", "s1")).toEqual([1, 1.75]);
  });

  it("proposes the middle until the server does, and no range once a figure is agreed", () => {
    const open = settleRow("r1", stageFacts(bottles, "r1", "s1"), null, [1.5, 2]);
    expect([open.proposedL, open.range]).toEqual([1.75, [1.5, 2]]);
    const agreed = noted("g", "agreed", { drunk_l: 2, proposed_l: 1.75 });
    expect(settleRow("r1", stageFacts([...bottles, agreed], "r1", "s1"), null, [1.5, 2]).range).toBeNull();
  });
});
