import { describe, expect, it } from "vitest";

import { TapGuard, type Touch } from "@/core/tap.ts";

const touch = (atMs: number, more: Partial<Touch> = {}): Touch => ({ pointerId: 1, isPrimary: true, x: 100, y: 100, atMs, ...more });

function press(guard: TapGuard, band: string, atMs: number, heldMs = 80): string {
  guard.start(band, touch(atMs));
  return guard.end(band, touch(atMs + heldMs));
}

describe("a tap", () => {
  it("counts when it goes down and up in one band", () => {
    expect(press(new TapGuard(), "a", 0)).toBe("hit");
  });

  it.each([[20, "too short"], [1600, "too long"]])("does not count when held for %i ms", (heldMs) => {
    expect(press(new TapGuard(), "a", 0, heldMs)).toBe("ignored");
  });

  it("does not count when it slides away or ends elsewhere", () => {
    const guard = new TapGuard();
    guard.start("a", touch(0));
    expect(guard.end("a", touch(80, { y: 130 }))).toBe("ignored");
    guard.start("a", touch(1000));
    expect(guard.end("b", touch(1080))).toBe("ignored");
  });

  it("is dead in its band for a moment, and alive in another", () => {
    const guard = new TapGuard();
    expect(press(guard, "a", 0)).toBe("hit");
    expect(press(guard, "a", 300)).toBe("ignored");
    expect(press(guard, "b", 500)).toBe("hit");
    expect(press(guard, "a", 3000)).toBe("hit");
  });
});

describe("rain", () => {
  it("is suspected at the third hit in two seconds, whose entry is kept", () => {
    const guard = new TapGuard();
    expect([press(guard, "a", 0), press(guard, "b", 400), press(guard, "c", 800)]).toEqual(["hit", "hit", "rain_hit"]);
    guard.forget();
    expect(press(guard, "d", 1200)).toBe("hit");
  });

  it("is suspected at the second smear in three seconds, and smears note nothing", () => {
    const guard = new TapGuard();
    const smear = (atMs: number): string => {
      guard.start("a", touch(atMs));
      guard.start("b", touch(atMs + 5, { pointerId: 2, isPrimary: false }));
      guard.end("a", touch(atMs + 80));
      return guard.end("b", touch(atMs + 85, { pointerId: 2, isPrimary: false }));
    };
    expect(smear(0)).toBe("ignored");
    expect(smear(900)).toBe("rain");
    expect(press(guard, "a", 5000)).toBe("hit");
  });
});
