import { afterEach, describe, expect, it } from "vitest";

import {
  asTyped, byName, decimal, hours, litres, METRIC, millilitres, parseNumber, percent, quarters, showUnitsIn, speakNumbersIn, sweatSodium, typedMass, typedVolume,
} from "@/core/display.ts";
import { kgFromLb, lbFromKg, litresFromUsFlOz, sodiumMg, sodiumMmol, usFlOzFromLitres } from "@/core/units.ts";

afterEach(() => speakNumbersIn("en"));

describe("rounding at the glass", () => {
  it.each([[2.349, "2.35 L"], [0, "0.00 L"], [0.024, "0.00 L"], [-0.01, "0.00 L"], [0.376, "0.40 L"]])("shows a sum of %f L as %s", (value, shown) => {
    expect(litres(value)).toBe(shown);
  });

  it("shows one entry to 10 mL, a share to a tenth of a percent, sodium as mg/L first", () => {
    expect(millilitres(0.1249)).toBe("120 mL");
    expect(percent(-0.0152)).toBe("-1.5 %");
    expect(sweatSodium(47)).toBe("1,080 mg/L (47 mmol/L)");
    expect(hours(4.51)).toBe("4 h 31");
  });

  it("follows the language with its comma", () => {
    speakNumbersIn("fr");
    expect(decimal(67.4, 1)).toBe("67,4");
  });

  it.each(["en", "fr", "it", "es", "nl"])("writes small numbers as the platform's own tables do (%s)", (language) => {
    speakNumbersIn(language);
    const tag = language === "en" ? "en-GB" : language;
    for (const digits of [0, 1, 2]) {
      const table = new Intl.NumberFormat(tag, { minimumFractionDigits: digits, maximumFractionDigits: digits });
      for (const value of [0, -0.004, 0.5, -1.25, 7.4, 67.43, 998.4, 998.96, 999, 999.5, -999.99, 1000, 1234.5, 12345]) {
        const rounded = Math.round(value / 10 ** -digits) * 10 ** -digits;
        expect(decimal(value, digits)).toBe(table.format(Object.is(rounded, -0) ? 0 : rounded));
      }
    }
  });

  it("puts plain names in order without a table, and others with one", () => {
    expect(["W", "sa", "S", "A 500"].sort(byName)).toEqual(["A 500", "S", "sa", "W"]);
    expect(["Zoute", "Éclair", "Appel"].sort(byName)).toEqual(["Appel", "Éclair", "Zoute"]);
  });

  it.each([[0, "0"], [0.25, "¼"], [1, "1"], [1.5, "1½"], [2.75, "2¾"]])("says %f in quarters as %s", (value, said) => {
    expect(quarters(value)).toBe(said);
  });
});

describe("typed numbers", () => {
  it.each([["67.4", 67.4], ["67,4", 67.4], [" 70 ", 70], ["-1", -1], ["1 234", 1234]])("reads %s", (typed, value) => {
    expect(parseNumber(typed)).toBe(value);
  });

  it.each(["", "abc", "1.2.3", "1,234.5", "6.", "NaN", "Infinity", "1e3"])("refuses %j", (typed) => {
    expect(parseNumber(typed)).toBeNull();
  });
});

describe("what was typed", () => {
  afterEach(() => showUnitsIn(METRIC));

  it("stands beside the book's own unit, in the unit it was typed in, and nowhere else", () => {
    expect(asTyped({ mass_kg: [typedMass(), 67.4], urine_l: [typedVolume(), 0.2] })).toEqual({});
    showUnitsIn({ ...METRIC, mass: "lb", volume: "us" });
    expect(asTyped({ mass_kg: [typedMass(), 148.6], urine_l: [typedVolume(), null] })).toEqual({ typed: { mass_kg: { value: 148.6, unit: "lb" } } });
    expect(asTyped({ urine_l: [typedVolume(), 7] })).toEqual({ typed: { urine_l: { value: 7, unit: "us_fl_oz" } } });
    expect(typedMass().toCanonical(148.6)).toBeCloseTo(67.404, 3);
  });
});

describe("units go there and back", () => {
  it("within a millilitre, a gram and a milligram", () => {
    for (const value of [0.01, 0.5, 0.75, 3.21]) {
      expect(Math.abs(litresFromUsFlOz(usFlOzFromLitres(value)) - value)).toBeLessThan(0.001);
      expect(kgFromLb(lbFromKg(value))).toBeCloseTo(value, 9);
      expect(sodiumMg(sodiumMmol(value))).toBeCloseTo(value, 9);
    }
  });
});
