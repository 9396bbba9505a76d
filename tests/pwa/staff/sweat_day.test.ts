import { describe, expect, test } from "vitest";

import {
  checked, massLost, pairQuality, RIDE_FIELDS, SAMPLE_FIELDS, sampleQuality, typedNumber, type SampleFigures,
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
    expect(codes({ volumeUl: 9 })).toEqual(["vol_low"]);
    expect(codes({ volumeUl: 11 })).toEqual(["rate_low"]);
  });

  test("seven days sealed is kept with a note, eight or unsealed is not", () => {
    expect(codes({ storedDays: 3 })).toEqual(["stored"]);
    expect(codes({ storedDays: 8 })).toEqual(["store_fail"]);
    expect(codes({ isSealed: false })).toEqual(["unsealed"]);
  });

  test("first sweat is said, and what stops comes before what only widens", () => {
    expect(codes({ startedAfterMin: 5, isSealed: false })).toEqual(["unsealed", "first_sweat"]);
  });

  test("readings outside what riders show are named", () => {
    expect([codes({ sodiumMmolPerL: 5 }), codes({ sodiumMmolPerL: 110 }), codes({ sodiumMmolPerL: 130 })])
      .toEqual([["range_low"], ["range_high"], ["range_repeat"]]);
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
