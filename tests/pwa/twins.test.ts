import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";

import { fold } from "@/core/fold.ts";
import { linkedPairs, rangeL, twinsOf } from "@/core/twins.ts";
import type { FactEvent } from "@/protocol/records.ts";

interface Vector {
  name: string;
  events: FactEvent[];
  /** [kept, other], nearest in time first. */
  twins: [string, string][];
}
const vectors = JSON.parse(readFileSync(new URL("../sync/twin_vectors.json", import.meta.url), "utf8")) as Vector[];
const found = (events: readonly FactEvent[]) => twinsOf(fold(events), events).map(({ one, other }) => [one.id, other.id]);

describe.each(vectors)("twins: $name", ({ events, twins }) => {
  it("are those of the shared vectors, in any order", () => {
    expect(found(events)).toEqual(twins);
    expect(found([...events].reverse())).toEqual(twins);
  });
});

let n = 0;
function entry(by: string, atMs: number, body: object, more: Partial<FactEvent> = {}): FactEvent {
  n += 1;
  return {
    id: `0190a000-0000-7000-8000-${String(n).padStart(12, "0")}`, kind: "handed_up", subject_id: "r1", by, device_id: by, n, lamport: n,
    at_ms: atMs, offset_ms: 0, stage_id: "s1", body, ...more,
  };
}
const bottle = { volume_l: 0.5, drink_id: "a" };

describe("a likely twin", () => {
  it("is found in a flood of entries without going through all pairs", () => {
    const flood = Array.from({ length: 4000 }, (_, i) => entry(`m${i % 8}`, i, bottle));
    const ids = twinsOf(fold(flood), flood).flatMap(({ one, other }) => [one.id, other.id]);

    expect(new Set(ids).size).toBe(ids.length);
    expect(ids.length).toBeGreaterThan(3900);
  });

  it("makes the total a range, and a link makes it a figure", () => {
    const [one, other, third] = [entry("m1", 0, bottle), entry("m2", 1000, bottle), entry("m1", 3_600_000, bottle)];
    const all = [one, other, third];
    expect(rangeL(all, twinsOf(fold(all), all), "handed_up")).toEqual([1, 1.5]);

    const link = entry("m1", 2000, { a: one.id, b: other.id, keep: one.id }, { kind: "link" });
    const linked = [...all, link];
    const live = [...fold(linked).live.values()];
    expect(rangeL(live, twinsOf(fold(linked), linked), "handed_up")).toEqual([1, 1]);
    expect(linkedPairs(fold(linked), new Map(linked.map((event) => [event.id, event])))).toEqual([{ one, other }]);
  });

  it("comes apart again by one more word", () => {
    const [one, other] = [entry("m1", 0, bottle), entry("m2", 1000, bottle)];
    const body = { a: one.id, b: other.id, keep: one.id };
    const all = [one, other, entry("m1", 1, body, { kind: "link" }), entry("m2", 2, body, { kind: "unlink" })];
    expect([...fold(all).live.keys()]).toEqual([one.id, other.id]);
    expect(linkedPairs(fold(all), new Map(all.map((event) => [event.id, event])))).toEqual([]);
  });
});

/** Mulberry32: a small seeded generator. */
function seeded(seed: number): () => number {
  let state = seed;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
  };
}

interface Day {
  events: FactEvent[];
  truth: Set<string>;
}

/**
 * One hot stage: eight riders, five places to hand up, two cars and two soigneurs at work. Sometimes two people note one
 * bottle, one of them late, with a rounder volume, or on a phone that has not heard the server's time.
 */
function labelledDay(seed: number): Day {
  const random = seeded(seed);
  const pick = <T>(list: readonly T[]): T => list[Math.floor(random() * list.length)] as T;
  const day: Day = { events: [], truth: new Set() };
  const crew = ["car-1", "car-2", "soigneur-1", "soigneur-2"];
  for (let rider = 0; rider < 8; rider += 1) {
    let atMs = 0;
    for (let handUp = 0; handUp < 12; handUp += 1) {
      atMs += (6 + random() * 24) * 60_000;
      const by = pick(crew);
      const body = { volume_l: 0.5, n_bottles: 1, drink_id: pick(["standard", "water", "salty"]) };
      const more = { subject_id: `r${rider}` };
      const first = entry(by, atMs, body, more);
      day.events.push(first);
      if (random() < 0.08) {
        const late = atMs + (random() ** 2 * 14 - 1) * 60_000;
        const noted = { ...body, volume_l: random() < 0.1 ? 0.75 : 0.5, drink_id: random() < 0.05 ? "water" : body.drink_id };
        const clock = random() < 0.2 ? { offset_ms: null, at_ms: late + (random() - 0.5) * 180_000 } : {};
        const second = entry(pick(crew.filter((one) => one !== by)), late, noted, { ...more, ...clock });
        day.events.push(second);
        day.truth.add([first.id, second.id].sort().join(" "));
      }
    }
  }
  return day;
}

describe("on labelled simulated days", () => {
  it("finds most twins, and is never so sure that it might merge alone", () => {
    let [hits, shown, real] = [0, 0, 0];
    for (let seed = 1; seed <= 40; seed += 1) {
      const day = labelledDay(seed);
      const pairs = twinsOf(fold(day.events), day.events).map(({ one, other }) => [one.id, other.id].sort().join(" "));
      hits += pairs.filter((pair) => day.truth.has(pair)).length;
      shown += pairs.length;
      real += day.truth.size;
    }
    const [precision, recall] = [hits / shown, hits / real];
    console.log(`twins on 40 labelled days: ${real} real, ${shown} shown, precision ${precision.toFixed(3)}, recall ${recall.toFixed(3)}`);
    expect(real).toBeGreaterThan(200);
    expect(recall).toBeGreaterThan(0.7);
    expect(precision).toBeGreaterThan(0.6);
    // Below 0.95 nothing may be merged without a person; nothing is, whatever the figure.
    expect([...fold(labelledDay(1).events).ignored]).toEqual([]);
  }, 60_000);
});
