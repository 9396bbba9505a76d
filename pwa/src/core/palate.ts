/** What a rider likes, takes, and never takes: one word per drink or food, read from and written to the palate. */

import type { RiderPalate } from "@/protocol/records.ts";

export const TASTE_WORDS = ["likes", "fine", "cannot"] as const;
export type TasteWord = (typeof TASTE_WORDS)[number];

/** What stands under "cannot" is never planned, so it wins over a liking. */
export const wordOf = ({ likes = [], cannot = [] }: RiderPalate, id: string): TasteWord =>
  (cannot.includes(id) ? "cannot" : likes.includes(id) ? "likes" : "fine");

/** The palate with one word changed; the others stand. */
export function withWord(palate: RiderPalate, id: string, word: TasteWord): RiderPalate {
  const others = (list: readonly string[] = []): string[] => list.filter((one) => one !== id);
  return {
    ...palate,
    likes: [...others(palate.likes), ...(word === "likes" ? [id] : [])],
    cannot: [...others(palate.cannot), ...(word === "cannot" ? [id] : [])],
  };
}
