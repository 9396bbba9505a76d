import { afterEach, describe, expect, it } from "vitest";

import { speakNumbersIn } from "@/core/display.ts";
import { dayHere, latelyHere, momentHere, toldApart } from "@/core/here.ts";

afterEach(() => speakNumbersIn("en"));

describe("instants that belong to no stage", () => {
  const noonMs = new Date(2026, 10, 26, 12, 5).getTime();

  it("says the whole date, the time and where that time is", () => {
    expect(momentHere(noonMs)).toMatch(/^26 Nov 2026, 12:05 \S+/);
    expect(dayHere(noonMs)).toBe("26 Nov 2026");
    speakNumbersIn("fr");
    expect(momentHere(noonMs)).toMatch(/^26 nov\. 2026.* 12:05 /);
  });

  it("leaves the day out only while it is still that day", () => {
    expect(latelyHere(noonMs, noonMs + 11 * 3_600_000)).toBe("12:05");
    expect(latelyHere(noonMs, noonMs + 12 * 3_600_000)).toBe("Thu 26 Nov 12:05");
    expect(latelyHere(noonMs, noonMs + 365 * 86_400_000)).toBe("Thu 26 Nov 12:05");
  });
});

describe("names that come twice", () => {
  it("carry a number from the second on, and the others stay as they are", () => {
    expect(toldApart(["phone", "spare", "phone", "phone"])).toEqual(["phone", "spare", "phone (2)", "phone (3)"]);
    expect(toldApart([])).toEqual([]);
  });
});
