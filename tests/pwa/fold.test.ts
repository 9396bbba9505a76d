import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";

import { fold, withFresh } from "@/core/fold.ts";
import type { FactEvent } from "@/protocol/records.ts";

interface Vector {
  name: string;
  events: FactEvent[];
  expected: Record<string, unknown>;
  ignored: string[];
}

const vectors = JSON.parse(readFileSync(new URL("../sync/fold_vectors.json", import.meta.url), "utf8")) as Vector[];

function shuffled<T>(list: readonly T[], seed: number): T[] {
  const out = [...list];
  let state = seed;
  for (let i = out.length - 1; i > 0; i -= 1) {
    state = (state * 1103515245 + 12345) % 2 ** 31;
    const j = state % (i + 1);
    [out[i], out[j]] = [out[j] as T, out[i] as T];
  }
  return out;
}

describe.each(vectors)("the phone folds as the server does: $name", ({ events, expected, ignored }) => {
  it("gives the server's answer", () => {
    const folded = fold(events);
    expect(Object.fromEntries([...folded.live].map(([id, event]) => [id, event.body]))).toEqual(expected);
    expect([...folded.ignored].sort()).toEqual([...ignored].sort());
  });

  it.each([1, 2, 3])("does not depend on order or repetition (seed %i)", (seed) => {
    const again = fold(shuffled([...events, ...events], seed));
    expect([...again.live]).toEqual([...fold(events).live]);
    expect([...again.ignored].sort()).toEqual([...fold(events).ignored].sort());
  });

  it("gives the same with one fact more, made just now, as with all of them", () => {
    const fresh = { ...events[0], id: "ffffffff-ffff-7fff-bfff-ffffffffffff", kind: "drank", ref: null, body: { volume_l: 0.5 } } as unknown as FactEvent;
    const quick = withFresh(fold(events), fresh);
    const whole = fold([...events, fresh]);
    expect(quick === null ? null : [...quick.live]).toEqual([...whole.live]);
    expect([...(quick?.ignored ?? [])]).toEqual([...whole.ignored]);
  });
});

it.each(["void", "amend", "link", "unlink"])("a fresh %s is no addition: everything is folded", (kind) => {
  const one = { id: "b", kind: "drank", body: {} } as unknown as FactEvent;
  expect(withFresh(fold([one]), { ...one, id: "c", kind } as FactEvent)).toBeNull();
  expect(withFresh(fold([one]), { ...one, id: "a" })).toBeNull();
});
