/** The phone's buckets and mix checks give the engine's own answers; codes and verdicts besides. */

import { readFileSync } from "node:fs";

import { describe, expect, it } from "vitest";

import { bucketsL, dose, fillsOf, modulesOf } from "@/core/coolbox.ts";
import { conductingBatch, type Made, mixVerdict, refractingBatch, weighedBatch } from "@/core/mix_check.ts";

const read = (name: string) => JSON.parse(readFileSync(new URL(`../engine/plan/${name}`, import.meta.url), "utf8"));
const vectors = read("coolbox_vectors.json");
const answers = read("coolbox_answers.json");
const close = (got: readonly (number | null)[], known: readonly (number | null)[]): void => {
  expect(got.length).toBe(known.length);
  got.forEach((one, i) => (known[i] === null ? expect(one).toBeNull() : expect(one).toBeCloseTo(known[i] as number, 6)));
};
const pair = (made: Made): number[] => [made.mgPerL, made.sdMgPerL];

describe("the engine's twin", () => {
  it("splits a volume into buckets", () => {
    vectors.buckets.forEach((v: any, i: number) => close(bucketsL(v.volume_l, v.bucket_l), answers.buckets[i]));
  });

  it("weighs and scoops", () => {
    vectors.doses.forEach((v: any, i: number) => {
      const made = dose(v.g_per_l, v.volume_l, v.scoop_g);
      close([made.massG, made.nScoops, made.errorFrac], answers.doses[i]);
    });
  });

  it("reads a batch three ways", () => {
    vectors.weighed.forEach((v: any, i: number) => {
      const supplies = v.supplies.map(([massG, sodiumMgPerG, carbohydrateGPerG]: number[]) => ({ massG, sodiumMgPerG, carbohydrateGPerG }));
      close(pair(weighedBatch(supplies, v.water_l)), answers.weighed[i]);
    });
    vectors.conducting.forEach((v: any, i: number) =>
      close(pair(conductingBatch(v.conductivity_ms_per_cm, v.temperature_c, v.label_mg_per_l, v.reference_ms_per_cm)), answers.conducting[i]));
    vectors.refracting.forEach((v: any, i: number) => {
      const recipe = { powderGPerL: v.powder_g_per_l, powderMgPerL: v.powder_mg_per_l, unseenMgPerL: v.unseen_mg_per_l };
      close(pair(refractingBatch(v.sucrose_g_per_100_g, recipe)), answers.refracting[i]);
    });
  });
});

describe("a mix by the bucket", () => {
  const mix = {
    drink_id: "d", name: "Mix", short_name: "M", bottle_l: 0.5, n_bottles: 46, volume_l: 23, sodium_mg_per_l: 800,
    carbohydrate_g_per_l: 60, water_frac: 0.963,
    portions: [
      { supply_id: "p", name: "Powder", g_per_l: 62.5, scoop_g: 42, sodium_mg_per_g: 3 },
      { supply_id: "s", name: "Salt", g_per_l: 1.557, scoop_g: 5, sodium_mg_per_g: 393.36 },
    ],
  };

  it("counts equal fills together and keeps every gram", () => {
    const fills = fillsOf(mix, 10);
    expect(fills.map((fill) => [fill.volumeL, fill.n])).toEqual([[10, 2], [3, 1]]);
    const grams = fills.reduce((sum, fill) => sum + fill.n * (fill.doses[0]?.massG ?? 0), 0);
    expect(grams).toBeCloseTo(62.5 * 23, 9);
  });

  it("says what scoops make of the sodium, and weighs where a scoop is too coarse", () => {
    const [full, rest] = fillsOf(mix, 10);
    const scooped = (15 * 42 * 3 + 3 * 5 * 393.36) / 10;
    expect(full?.scoopedMgPerL).toBeCloseTo(scooped, 6);
    expect(rest?.doses[1]?.nScoops).toBe(1);
    expect(dose(0.0636, 10, 5)).toMatchObject({ nScoops: 0, errorFrac: -1 });
  });
});

describe("a verdict on a batch", () => {
  it.each([[780, 20, "right"], [500, 30, "too_weak"], [1100, 30, "too_strong"], [660, 120, "unsure"]] as const)(
    "%i ± %i is %s", (mgPerL, sdMgPerL, word) => expect(mixVerdict({ mgPerL, sdMgPerL }, 800)).toBe(word),
  );
});

it("reads a code's modules from its bits: the three finders stand in their corners", () => {
  const side = 21;
  const bits = Array.from({ length: side * side }, (_, i) => {
    const [row, column] = [Math.floor(i / side), i % side];
    return row === 0 && (column < 7 || column >= 14) ? "1" : "0";
  }).join("");
  const hex = BigInt(`0b${bits}`).toString(16).padStart(111, "0");
  expect(modulesOf(hex, side)[0]?.map(Number).join("")).toBe("111111100000001111111");
});
