/** The Lane: where a stage may end between two kerbs, as positions; 0 is the left kerb, 1 the right. */

import type { LaneWord } from "@/protocol/records.ts";

/** A side counts as possible from this many of the twenty dots. */
const DOTS_THAT_CROSS = 3;

export interface LaneDots {
  /** Ascending positions; below 0 the dry side, above 1 the wet side. */
  readonly positions: readonly number[];
  readonly nDry: number;
  readonly nIn: number;
  readonly nWet: number;
  readonly word: LaneWord;
}

export interface LaneInput {
  /** Twenty equally likely losses [L], ascending. */
  readonly quantilesL: readonly number[];
  /** Intake [L] the stage would end with. */
  readonly intakeL: number | null;
  /** Intake [L] at the two kerbs for the median loss. */
  readonly lowL: number;
  readonly highL: number;
}

export interface PlacedDot {
  readonly x: number;
  readonly y: number;
  readonly side: "dry" | "in_lane" | "wet";
}

function sideOf(position: number): PlacedDot["side"] {
  if (position < 0) return "dry";
  return position > 1 ? "wet" : "in_lane";
}

function wordOf(nDry: number, nIn: number, nWet: number): LaneWord {
  if (nDry >= DOTS_THAT_CROSS && nWet >= DOTS_THAT_CROSS) return "cant_tell";
  if (nIn >= nDry && nIn >= nWet) return "in_lane";
  return nDry > nWet ? "dry" : "wet";
}

/** A rider who loses more than the median needs that much more, so his intake counts for that much less. */
export function laneDots(input: LaneInput): LaneDots {
  const { quantilesL, intakeL, lowL, highL } = input;
  if (intakeL === null || quantilesL.length === 0 || highL <= lowL) {
    return { positions: [], nDry: 0, nIn: 0, nWet: 0, word: "nothing_noted" };
  }
  const middle = quantilesL.length / 2;
  const medianL = ((quantilesL[Math.ceil(middle) - 1] ?? 0) + (quantilesL[Math.floor(middle)] ?? 0)) / 2;
  const positions = quantilesL
    .map((lossL) => (intakeL - (lossL - medianL) - lowL) / (highL - lowL))
    .sort((a, b) => a - b);
  const nDry = positions.filter((position) => position < 0).length;
  const nWet = positions.filter((position) => position > 1).length;
  const nIn = positions.length - nDry - nWet;
  return { positions, nDry, nIn, nWet, word: wordOf(nDry, nIn, nWet) };
}

/** Share of the width outside each kerb. */
export const VERGE_FRAC = 0.26;

/** Where a position stands across the road's width; far ones wait at the edge. */
export function acrossRoad(position: number, widthPx: number, marginPx: number): number {
  const x = widthPx * (VERGE_FRAC + position * (1 - 2 * VERGE_FRAC));
  return Math.min(widthPx - marginPx, Math.max(marginPx, x));
}

/** Stack dots that fall on the same column around the middle line, so that none hides another. */
export function stackedDots(positions: readonly number[], widthPx: number, heightPx: number, dotPx: number): PlacedDot[] {
  const pitch = dotPx + 2;
  const columns = new Map<string, { x: number; side: PlacedDot["side"]; n: number }>();
  for (const position of positions) {
    const side = sideOf(position);
    const kerbs = [VERGE_FRAC, 1 - VERGE_FRAC].map((share) => share * widthPx);
    const column = Math.round(acrossRoad(position, widthPx, pitch / 2) / pitch);
    // A dot keeps to its own side of a kerb even when its column does not.
    const clear = dotPx / 2 + 4;
    const [left = 0, right = widthPx] = kerbs;
    const low = side === "dry" ? 0 : side === "in_lane" ? left + clear : right + clear;
    const high = side === "dry" ? left - clear : side === "in_lane" ? right - clear : widthPx;
    const x = Math.min(high, Math.max(low, column * pitch));
    const key = `${side} ${x}`;
    const found = columns.get(key);
    columns.set(key, { x, side, n: (found?.n ?? 0) + 1 });
  }
  const placed: PlacedDot[] = [];
  for (const { x, side, n } of columns.values()) {
    const step = Math.min(pitch, (heightPx - dotPx) / Math.max(1, n - 1));
    for (let i = 0; i < n; i += 1) placed.push({ x, side, y: heightPx / 2 + (i - (n - 1) / 2) * step });
  }
  return placed;
}

/** Where a mini-lane's one mark stands when only the word is known. */
export function positionOfWord(word: LaneWord): number | null {
  const known: Partial<Record<LaneWord, number>> = { dry: -0.3, in_lane: 0.5, wet: 1.3 };
  return known[word] ?? null;
}
