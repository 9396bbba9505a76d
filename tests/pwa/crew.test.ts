import { afterEach, describe, expect, it } from "vitest";

import { celsius, kilograms, kilometres, kmOfTyped, litres, METRIC, millilitres, showUnitsIn, typedMass, typedVolume } from "@/core/display.ts";
import { bottleOf, codeIn, leftL } from "@/core/returned.ts";
import { kmByClock, slateWord, stillPlannedL } from "@/core/slate.ts";
import type { BottleSheet, PlanStep, Stage } from "@/protocol/records.ts";
import { languageOf } from "@/ui/choices.ts";
import { groupsOf } from "@/ui/setup.ts";

afterEach(() => showUnitsIn(METRIC));

describe("a bottle that came back", () => {
  const bottles = [
    { number: 7, code: "7K2Q", drink_id: "a", rider_id: "r1" }, { number: 12, code: "12", drink_id: "b", rider_id: null },
  ];

  it.each([["HTTPS://HOST.EXAMPLE/B/7K2Q", 7], ["7k2q", 7], [" 7 ", 7], ["12", 12]])("is found by %j", (typed, number) => {
    expect(bottleOf(bottles, typed)?.number).toBe(number);
  });

  it.each(["", "8", "K2Q", "https://host.example/b/", "7.0"])("is not found by %j", (typed) => {
    expect(bottleOf(bottles, typed)).toBeNull();
  });

  it("takes the code from the end of an address", () => {
    expect(codeIn("https://x/b/ab1")).toBe("AB1");
  });

  // CRC Handbook, from memory: water 0.9982 kg/L and a 6 % sucrose solution 1.0218 kg/L at 20 °C.
  it("holds what the scale says, sugar weighing more than water", () => {
    expect(leftL(812, 72)).toBeCloseTo(0.7413, 3);
    expect(leftL(72 + 1021.8 / 2, 72, 61.3)).toBeCloseTo(0.5, 3);
    expect(leftL(60, 72)).toBe(0);
  });
});

describe("the slate", () => {
  const step = (km: number, until: number, drinkL: number): PlanStep =>
    ({ feed_id: "f", feed_name: "f", km, until_km: until, bottles: {}, drink_l: drinkL });
  const sheet = (low: number, high: number): BottleSheet => ({ kerb_low_l: low, kerb_high_l: high }) as BottleSheet;

  it("adds up what the plan has still to be drunk, a stretch evenly along its road", () => {
    const steps = [step(0, 40, 1), step(40, 100, 1.2)];
    expect(stillPlannedL(steps, 0)).toBeCloseTo(2.2, 9);
    expect(stillPlannedL(steps, 20)).toBeCloseTo(1.7, 9);
    expect(stillPlannedL(steps, 70)).toBeCloseTo(0.6, 9);
    expect(stillPlannedL(steps, 120)).toBe(0);
  });

  it.each([
    [null, 1, 2, "nothing_noted"], [0.9, 1, 2, "dry"], [1, 1, 2, "in_lane"], [2, 1, 2, "in_lane"], [2.1, 1, 2, "wet"], [1.5, 2, 2, "cant_tell"],
  ])("reads %s L between %s and %s as %s", (intake, low, high, word) => {
    expect(slateWord(intake, sheet(low, high))).toBe(word);
  });

  it("knows no word without a sheet, and no kilometre off the road", () => {
    const stage = { start_at_ms: 0, scheduled_duration_h: 4, feed_points: [{ id: "z", name: "z", kind: "zone", km: 160 }] } as unknown as Stage;
    expect(slateWord(1, null)).toBe("cant_tell");
    expect(kmByClock(stage, 2 * 3_600_000)).toBeCloseTo(80, 6);
    expect(kmByClock(stage, -1)).toBeNull();
    expect(kmByClock(stage, 5 * 3_600_000)).toBeNull();
  });
});

describe("units by choice", () => {
  it("shows and reads US fluid ounces, pounds, Fahrenheit and miles, within a millilitre there and back", () => {
    showUnitsIn({ volume: "us", mass: "lb", temperature: "f", distance: "mi" });
    expect([litres(1), millilitres(0.5), kilograms(70), celsius(30), kilometres(160.9344)]).toEqual(["34 fl oz", "17.0 fl oz", "154.3 lb", "86 °F", "mi 100"]);
    for (const l of [0.01, 0.5, 3.21]) expect(Math.abs(typedVolume().toCanonical(typedVolume().toTyped(l)) - l)).toBeLessThan(0.001);
    expect(typedMass().toCanonical(154.3235835)).toBeCloseTo(70, 6);
    expect(kmOfTyped(100)).toBeCloseTo(160.9344, 9);
  });
});

describe("the language of a person", () => {
  it.each([[["fr-CH", "de"], "fr"], [["de", "nl-BE"], "nl"], [["de"], "en"], [[], "en"], [["ES"], "es"]])("%j is %s", (wanted, language) => {
    expect(languageOf(wanted)).toBe(language);
  });

  it("keeps the chunks of a role and its language, and no others", () => {
    expect(groupsOf("rider", "en")).toEqual([]);
    expect(groupsOf("rider", "it")).toEqual(["it"]);
    expect(groupsOf("soigneur", "fr")).toEqual(["crew", "fr", "fr-crew"]);
    expect(groupsOf("physiologist", "nl")).toEqual(["crew", "staff", "nl", "nl-crew", "nl-staff"]);
  });
});
