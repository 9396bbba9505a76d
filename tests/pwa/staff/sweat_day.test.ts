import { readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";

import {
  checked, massLost, meterQuality, normalShare, pairQuality, RIDE_FIELDS, SAMPLE_FIELDS, sampleQuality, saltierOf100, timerMinutes, typedNumber, type SampleFigures,
} from "@/core/sweat_day.ts";

const CLEAN: SampleFigures = {
  sodiumMmolPerL: 52, volumeUl: 60, areaCm2: 5, collectedMin: 20, startedAfterMin: 25, storedDays: 0, isSealed: true,
};

function codes(more: Partial<SampleFigures>): string[] {
  return sampleQuality({ ...CLEAN, ...more }).map((q) => q.code);
}

describe("typed numbers", () => {
  test("300 mmol/L is refused as too high, with nothing guessed", () => {
    expect(checked("300", SAMPLE_FIELDS.sodium)).toEqual({ value: null, issue: "too_high" });
  });

  test("comma and point are both a decimal sign, two signs are refused", () => {
    expect(typedNumber("68,4").value).toBe(68.4);
    expect(typedNumber("68.4").value).toBe(68.4);
    expect(typedNumber("1.234,5").issue).toBe("two_separators");
  });

  test("words are not numbers", () => {
    expect(checked("much", SAMPLE_FIELDS.sodium).issue).toBe("not_a_number");
  });

  test("an optional field may stay empty, a needed one may not", () => {
    expect(checked("", RIDE_FIELDS.food)).toEqual({ value: null, issue: null });
    expect(checked("", RIDE_FIELDS.before).issue).toBe("empty");
  });

  test("a ride under an hour is too short to read a rate from", () => {
    expect(checked("0.5", RIDE_FIELDS.duration).issue).toBe("too_low");
  });
});

describe("sample quality", () => {
  test("a clean sample says nothing", () => {
    expect(codes({})).toEqual([]);
  });

  test("too little sweat stops the sample: 0.1 µL per cm² and minute is the floor", () => {
    expect(codes({ volumeUl: 9 })).toEqual(["VOL_LOW"]);
    expect(codes({ volumeUl: 11 })).toEqual(["RATE_LOW"]);
  });

  test("seven days sealed is kept with a note, eight or unsealed is not", () => {
    expect(codes({ storedDays: 3 })).toEqual(["STORED"]);
    expect(codes({ storedDays: 8 })).toEqual(["STORE_FAIL"]);
    expect(codes({ isSealed: false })).toEqual(["STORE_FAIL"]);
  });

  test("first sweat is said, and what stops comes before what only widens", () => {
    expect(codes({ startedAfterMin: 5, isSealed: false })).toEqual(["STORE_FAIL", "FIRST_SWEAT"]);
  });

  test("readings outside what riders show are named", () => {
    expect([codes({ sodiumMmolPerL: 5 }), codes({ sodiumMmolPerL: 110 }), codes({ sodiumMmolPerL: 130 })])
      .toEqual([["RANGE_LOW"], ["RANGE_HIGH"], ["RANGE_HIGH", "REPEAT"]]);
  });

  test("two arms agree, differ or ask to be repeated", () => {
    expect(pairQuality(50, 56).code).toBe("agree");
    expect(pairQuality(50, 66).code).toBe("differ");
    expect(pairQuality(50, 75).code).toBe("repeat");
    expect(pairQuality(10, 15).code).toBe("agree");
  });
});

test("mass lost counts what was drunk and eaten and takes off the void", () => {
  const { lostL, rateLPerH } = massLost({
    beforeKg: 69.1, afterKg: 67.95, drunkL: 0.41, foodKg: 0.1, urineL: 0.1, durationH: 1,
  });

  expect(lostL).toBeCloseTo(1.56, 9);
  expect(rateLPerH).toBeCloseTo(1.56, 9);
});

describe("the same verdict as the server", () => {
  const vectors = JSON.parse(readFileSync(new URL("../../engine/measure/quality_vectors.json", import.meta.url), "utf8")) as {
    samples: { id: string; sample: SampleFigures; codes: string[]; is_usable: boolean }[];
    meters: { id: string; slope: number; low: number; high: number; n_samples: number; controls: [number, number, number][]; codes: string[] }[];
  };

  test.each(vectors.samples)("sample: $id", ({ sample, codes: expected, is_usable }) => {
    const found = sampleQuality(sample);

    expect(found.map((q) => q.code).sort()).toEqual([...expected].sort());
    expect(found.some((q) => q.isStop)).toBe(!is_usable);
  });

  test.each(vectors.meters)("meter: $id", ({ slope, low, high, n_samples, controls, codes: expected }) => {
    const body = { analyser: "a", slope_mv_per_decade: slope, low_mmol_per_l: low, high_mmol_per_l: high, controls };

    expect(meterQuality(body, n_samples).sort()).toEqual([...expected].sort());
  });
});

test("the clock gives minutes to a tenth, and none where a tap is missing or before the one before", () => {
  const minute = 60_000;

  expect(timerMinutes({ effortMs: 0, onMs: 21 * minute, offMs: 33.5 * minute })).toEqual({ startedAfterMin: 21, collectedMin: 12.5 });
  expect(timerMinutes({ effortMs: 5, onMs: null, offMs: null })).toEqual({ startedAfterMin: null, collectedMin: null });
  expect(timerMinutes({ effortMs: 9 * minute, onMs: minute, offMs: null }).startedAfterMin).toBeNull();
});

test("a normal share agrees with the printed table, and the middle of athletes is the middle", () => {
  expect(normalShare(1.96)).toBeCloseTo(0.975, 4);
  expect(normalShare(-1)).toBeCloseTo(0.1587, 4);
  expect(saltierOf100(Math.exp(3.695))).toBe(50);
  expect(saltierOf100(100)).toBeLessThan(3);
});
