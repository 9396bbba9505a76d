import { describe, expect, test } from "vitest";

import { firstFeeds, plainForecast, readRoster, straightCourse } from "@/core/first_steps.ts";

describe("a roster in lines", () => {
  test("number, name and mass are enough; what is missing is named", () => {
    const { lines, faults } = readRoster("61 Teodor Maravel 63,4 kg\n62; Sefu Okunde; 70; 1.84; 31; m\n");

    expect(faults).toEqual([]);
    expect(lines[0]).toEqual({
      rider: { id: "r-61", name: "Teodor Maravel", race_number: 61 },
      body: { id: "r-61", mass_kg: 63.4, height_m: 1.8, age_years: 27, sex: "m" }, defaults: ["height", "age", "sex"],
    });
    expect(lines[1]?.body).toEqual({ id: "r-62", mass_kg: 70, height_m: 1.84, age_years: 31, sex: "m" });
    expect(lines[1]?.defaults).toEqual([]);
  });

  test("a tab from a spreadsheet separates as well, and centimetres are metres", () => {
    expect(readRoster("7\tAn Example\t58.2\t172\t24\tf").lines[0]?.body).toEqual({ id: "r-7", mass_kg: 58.2, height_m: 1.72, age_years: 24, sex: "f" });
  });

  test.each([
    ["Nobody", "unreadable"], ["5 Name 12", "mass"], ["5 Name 70 2.9", "height"], ["5 Name 70 1.8 9", "age"], ["0 Name 70", "number"],
  ] as const)("%s is named with its line", (text, why) => {
    expect(readRoster(`1 Good Rider 70\n${text}`).faults).toEqual([{ line: 2, text, why }]);
  });

  test("a number given twice is said, never overwritten", () => {
    expect(readRoster("5 One 70\n5 Two 71").faults).toEqual([{ line: 2, text: "5 Two 71", why: "twice" }]);
  });
});

describe("defaults of a first stage", () => {
  test("feed points stand every 45 km and none near the finish", () => {
    const feeds = firstFeeds(160, { start: "Start", feed: (n) => `Feed ${n}` });

    expect(feeds.map((feed) => feed.km)).toEqual([0, 45, 90, 135]);
    expect(firstFeeds(20, { start: "Start", feed: String })).toHaveLength(1);
  });

  test("a stand-in road has its length and goes north", () => {
    const road = straightCourse(100, 45, 5);

    expect([road[0]?.[0], road.at(-1)?.[0]]).toEqual([0, 100]);
    expect((road.at(-1)?.[2] ?? 0) - 45).toBeCloseTo(0.9, 1);
  });

  test("a few figures make ten hours: at the start as typed, the warmest three hours in", () => {
    const rows = plainForecast(0, { startC: 22, warmestC: 31, humidityFrac: 0.5, windMPerS: 2, cloudFrac: 0.2 });

    expect(rows).toHaveLength(10);
    expect(Math.max(...rows.map((row) => row.air_temperature_c))).toBe(31);
    expect(rows.every((row) => row.relative_humidity_frac > 0 && row.relative_humidity_frac <= 1)).toBe(true);
    expect(rows.find((row) => row.air_temperature_c === 31)?.relative_humidity_frac).toBeLessThan(0.5);
  });
});
