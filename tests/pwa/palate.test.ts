import { describe, expect, it } from "vitest";

import { TASTE_WORDS, withWord, wordOf } from "@/core/palate.ts";
import type { RiderPalate } from "@/protocol/records.ts";

const palate: RiderPalate = { id: "r1", version: 3, likes: ["cola"], cannot: ["gel"], cannot_allergens: ["nuts"] };

describe("a rider's palate", () => {
  it("says one word for each drink and food, and takes what nobody spoke of", () => {
    expect(["cola", "gel", "rice"].map((id) => wordOf(palate, id))).toEqual(["likes", "cannot", "fine"]);
    expect(wordOf({ id: "r1", version: 0 }, "cola")).toBe("fine");
  });

  it("reads what stands in both lists as what he cannot take", () => {
    expect(wordOf({ ...palate, likes: ["gel"] }, "gel")).toBe("cannot");
  });

  it.each(TASTE_WORDS)("keeps the word %s for one item, once, and leaves the others and the allergens alone", (word) => {
    for (const id of ["cola", "gel", "rice"]) {
      const next = withWord(withWord(palate, id, word), id, word);

      expect(wordOf(next, id)).toBe(word);
      expect([...(next.likes ?? []), ...(next.cannot ?? [])].filter((one) => one === id)).toHaveLength(word === "fine" ? 0 : 1);
      for (const other of ["cola", "gel", "rice"].filter((one) => one !== id)) expect(wordOf(next, other)).toBe(wordOf(palate, other));
      expect(next).toMatchObject({ id: "r1", version: 3, cannot_allergens: ["nuts"] });
    }
    expect(palate).toEqual({ id: "r1", version: 3, likes: ["cola"], cannot: ["gel"], cannot_allergens: ["nuts"] });
  });
});
