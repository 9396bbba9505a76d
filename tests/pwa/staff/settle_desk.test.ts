import { readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";

import { rivals, standingAgreed } from "@/core/agreement.ts";
import { isTyped, keyLeads, pastedBlock } from "@/core/grid.ts";
import { settlementPreview, updateFactor } from "@/core/learn.ts";
import { settleRow, stageFacts } from "@/core/settle.ts";
import { editFor, factsOfCell, likelyDrink, volumeOf, type Edit } from "@/core/settle_edit.ts";
import { sharedOut, teamAccount } from "@/core/team_count.ts";
import type { Drink, FactEvent, Settlement } from "@/protocol/records.ts";

let n = 0;
function fact(kind: string, body: unknown, more: Partial<FactEvent> = {}): FactEvent {
  n += 1;
  return {
    id: `00000000-0000-7000-8000-${String(n).padStart(12, "0")}`, kind, subject_id: "r41", by: "ana", device_id: "d1", n,
    lamport: n, at_ms: 1_750_000_000_000 + n, stage_id: "s12", body, ...more,
  };
}
const DRINK: Drink = { id: "std", name: "Mix", short_name: "A", bottle_l: 0.5, sodium_mg_per_l: 800 };

describe("learning, before it is accepted", () => {
  const vectors = JSON.parse(readFileSync(new URL("../../planning/learn_vectors.json", import.meta.url), "utf8")) as {
    id: string; log_mean: number; log_sd: number; model_l: number; observed_l: number; observed_sd_l: number;
    is_rejected: boolean; factor: number; factor_log_sd: number; tolerance: number;
  }[];

  test.each(vectors)("$id", (v) => {
    const { state, isRejected } = updateFactor({ logMean: v.log_mean, logSd: v.log_sd }, v.model_l, v.observed_l, v.observed_sd_l);

    expect(isRejected).toBe(v.is_rejected);
    expect(Math.abs(Math.exp(state.logMean) - v.factor)).toBeLessThanOrEqual(v.tolerance);
    expect(Math.abs(state.logSd - v.factor_log_sd)).toBeLessThanOrEqual(v.tolerance);
  });

  const doc: Settlement = {
    id: "settlement:r41:s12", rider_id: "r41", basis: { engine_version: "1", input_ids: [] }, stage_id: "s12", stage_number: 12,
    state: "proposed", handed_up_l: 4, came_back_l: 0, poured_l: 0, lost_l: 0, noted_drunk_l: 3, derived_drunk_l: 4,
    proposed_drunk_l: 3, drunk_sd_l: 0.2, drunk_evidence: "counted", lane: "in_lane", sweat_loss_l: 4, sweat_loss_sd_l: 0.25,
    model_sweat_l: 3.6, body_mass_change_frac: -0.015, prior_log_mean: 0, prior_log_sd: 0.2, prior_offset_log: 0,
  };

  test("a litre more agreed is a litre more sweat, and a higher factor", () => {
    const less = settlementPreview(doc, 3);
    const more = settlementPreview(doc, 3.5);

    expect([less?.sweatL, more?.sweatL]).toEqual([4, 4.5]);
    expect(more?.factorAfter ?? 0).toBeGreaterThan(less?.factorAfter ?? 9);
    expect(less?.deficitL).toBeCloseTo(1, 9);
  });

  test("a loss nobody has teaches nothing, and without scales nothing is foretold", () => {
    expect(settlementPreview(doc, 12)?.verdict).toBe("not_believed");
    expect(settlementPreview(doc, 12)?.nextLossFrac).toBe(0);
    expect(settlementPreview({ ...doc, sweat_loss_l: null }, 3)).toBeNull();
  });
});

describe("two editors", () => {
  test("figures agreed unseen stand side by side until one is chosen", () => {
    const first = fact("agreed", { drunk_l: 2.8, over: [] });
    const second = fact("agreed", { drunk_l: 3.1, over: [] }, { by: "ben" });
    const both = standingAgreed([second, first], "r41", "s12");
    const chosen = fact("agreed", { drunk_l: 2.8, over: both.map((one) => one.id) });

    expect(rivals(both).map((one) => one.body.drunk_l)).toEqual([2.8]);
    expect(rivals(standingAgreed([first, second, chosen], "r41", "s12"))).toEqual([]);
  });

  test("the same figure twice is no quarrel, and a figure without names saw all before it", () => {
    const same = [fact("agreed", { drunk_l: 2.8, over: [] }), fact("agreed", { drunk_l: 2.81, over: [] })];
    const old = [fact("agreed", { drunk_l: 2.8 }), fact("agreed", { drunk_l: 3.4 })];

    expect(rivals(standingAgreed(same, "r41", "s12"))).toEqual([]);
    expect(rivals(standingAgreed(old, "r41", "s12"))).toEqual([]);
  });
});

describe("a cell typed over", () => {
  const sumAfter = (events: FactEvent[], edit: Edit): number => {
    const gone = new Set(edit.takeBack.map((event) => event.id));
    const kept = events.filter((event) => !gone.has(event.id)).reduce((sum, event) => sum + volumeOf(event), 0);
    return kept + edit.add.reduce((sum, one) => sum + volumeOf(fact(one.kind, one.body)), 0);
  };
  const back = [fact("came_back", { left_l: 0.3, how: "counted" }), fact("came_back", { left_l: 0.25, how: "counted" })];

  test.each([[0], [0.1], [0.3], [0.55], [0.9], [2.35]])("the sum becomes %f whatever stood there", (typed) => {
    const edit = editFor("back", typed, back, null);

    expect(sumAfter(back, edit as Edit)).toBeCloseTo(typed, 6);
  });

  test("bottles handed up come whole first and name their drink", () => {
    const edit = editFor("up", 1.7, [], DRINK) as Edit;

    expect(edit.add).toEqual([
      { kind: "handed_up", body: { drink_id: "std", volume_l: 0.5, n_bottles: 3 } },
      { kind: "handed_up", body: { drink_id: "std", volume_l: 0.2 } },
    ]);
    expect(editFor("up", 1, [], null)).toBe("no_drink");
  });

  test("food waits for a weighing and keeps the mass it belongs to", () => {
    const after = fact("weighed", { moment: "after", mass_kg: 67.4, urine_l: 0.2 });

    expect(editFor("food", 0.4, [], null)).toBe("no_after");
    expect(editFor("food", 0.4, [after], null)).toEqual({
      add: [{ kind: "weighed", body: { moment: "after", mass_kg: 67.4, urine_l: 0.2, food_kg: 0.4 } }], takeBack: [],
    });
  });

  test("the drink most handed up is the likely one", () => {
    const events = [fact("handed_up", { drink_id: "w", volume_l: 0.5 }), fact("handed_up", { drink_id: "std", volume_l: 0.5, n_bottles: 3 })];

    expect(likelyDrink(events, null, [{ ...DRINK, id: "w" }, DRINK])?.id).toBe("std");
    expect(factsOfCell(events, "up")).toHaveLength(2);
  });
});

describe("the grid", () => {
  const size = { rows: 8, columns: 14 };

  test.each([
    ["ArrowDown", false, { row: 1, column: 3 }], ["ArrowUp", false, { row: 0, column: 3 }], ["Home", false, { row: 0, column: 0 }],
    ["End", true, { row: 7, column: 13 }], ["PageDown", false, { row: 5, column: 3 }],
  ] as const)("%s leads inside the table", (key, isCtrl, to) => {
    expect(keyLeads({ row: 0, column: 3 }, key, isCtrl, size)).toEqual(to);
  });

  test("a letter is no key of the grid, and only figures start typing", () => {
    expect(keyLeads({ row: 0, column: 0 }, "x", false, size)).toBeNull();
    expect(["4", ",", "x", "Tab"].map(isTyped)).toEqual([true, true, false, false]);
  });

  test("a block pastes by rows and columns, whatever the line ends", () => {
    expect(pastedBlock("2.9\t3\r\n\t4,5\r\n")).toEqual([["2.9", "3"], ["", "4,5"]]);
  });
});

describe("the team's bottles", () => {
  const rowWith = (id: string, upL: number, agreedL: number | null) => settleRow(id, stageFacts([
    fact("handed_up", { volume_l: upL, drink_id: "std" }, { subject_id: id }),
    ...(agreedL === null ? [] : [fact("agreed", { drunk_l: agreedL }, { subject_id: id })]),
  ], id, "s12"), null);
  const count = (what: string, volume_l: number, more = {}) => fact("team_count", { what, n_bottles: volume_l * 2, volume_l, ...more }, { subject_id: "t" });

  test("the last count of a place stands and places add up", () => {
    const events = [count("loaded", 10, { place: "car 1" }), count("loaded", 12, { place: "car 1" }), count("loaded", 5, { place: "car 2" }), count("left_over", 3)];
    const account = teamAccount(events, "t", "s12", [rowWith("a", 8, null), rowWith("b", 4, null)]);

    expect(account.counted.loaded).toEqual({ volumeL: 17, nBottles: 34 });
    expect(account.notHandedL).toBeCloseTo(2, 9);
    expect(account.unexplainedL).toBeNull();
  });

  test("what is neither drunk nor back is said once all are settled", () => {
    const account = teamAccount([count("came_back", 0.5)], "t", "s12", [rowWith("a", 4, 3), rowWith("b", 4, 3.2)]);

    expect(account.unexplainedL).toBeCloseTo(1.3, 9);
  });

  test("a crate shared out adds up to the crate", () => {
    const parts = sharedOut(1, [rowWith("a", 3, null), rowWith("b", 1.5, null), rowWith("c", 4, 4)]);

    expect(parts.map((part) => part.riderId)).toEqual(["a", "b"]);
    expect(parts.reduce((sum, part) => sum + part.volumeL, 0)).toBeCloseTo(1, 9);
  });
});
