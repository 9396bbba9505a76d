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
  /** The plan's kerbs [L]: below the lower one the median loss ends on the dry side; the upper one is a small loss. */
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
  const half = (nDry + nIn + nWet) / 2;
  if (nDry > half) return "dry";
  return nWet > half ? "wet" : "in_lane";
}

/** Each loss gives one end of the stage: at the wet kerb nothing is owed, at the dry one as much as the plan allows. */
export function laneDots(input: LaneInput): LaneDots {
  const { quantilesL, intakeL, lowL, highL } = input;
  const middle = quantilesL.length / 2;
  const medianL = ((quantilesL[Math.ceil(middle) - 1] ?? 0) + (quantilesL[Math.floor(middle)] ?? 0)) / 2;
  const limitL = medianL - lowL;
  if (intakeL === null || quantilesL.length === 0 || limitL <= 0) {
    return { positions: [], nDry: 0, nIn: 0, nWet: 0, word: "nothing_noted" };
  }
  const positions = quantilesL.map((lossL) => 1 - (lossL - intakeL) / limitL).sort((a, b) => a - b);
  const nDry = positions.filter((position) => position < 0).length;
  const nWet = positions.filter((position) => position > 1).length;
  const nIn = positions.length - nDry - nWet;
  // Kerbs that meet leave no lane to be in: the losses are spread too far for any other word.
  const word = highL <= lowL ? "cant_tell" : wordOf(nDry, nIn, nWet);
  return { positions, nDry, nIn, nWet, word };
}

/** Share of the width outside each kerb. */
export const VERGE_FRAC = 0.26;

/** Where a position stands across the road's width; far ones wait at the edge. */
export function acrossRoad(position: number, widthPx: number, marginPx: number): number {
  const x = widthPx * (VERGE_FRAC + position * (1 - 2 * VERGE_FRAC));
  return Math.min(widthPx - marginPx, Math.max(marginPx, x));
}

/** The columns a dot may take: its own first, then one pitch at a time away from the verge's edge. */
function columnsFor(side: PlacedDot["side"], x: number, pitch: number, low: number, high: number): number[] {
  const step = side === "wet" || (side === "in_lane" && x > (low + high) / 2) ? -pitch : pitch;
  const count = Math.max(1, Math.floor((step > 0 ? high - x : x - low) / pitch) + 1);
  return Array.from({ length: count }, (_, i) => x + i * step);
}

/** Stack dots that fall on one column around the middle line; a full column spills over to the next. */
export function stackedDots(positions: readonly number[], widthPx: number, heightPx: number, dotPx: number): PlacedDot[] {
  const pitch = dotPx + 2;
  const roomFor = Math.max(1, Math.floor((heightPx - dotPx) / pitch) + 1);
  const clear = dotPx / 2 + 4;
  const [left, right] = [widthPx * VERGE_FRAC, widthPx * (1 - VERGE_FRAC)];
  const bounds = { dry: [pitch / 2, left - clear], in_lane: [left + clear, right - clear], wet: [right + clear, widthPx - pitch / 2] } as const;
  const columns = new Map<string, { x: number; side: PlacedDot["side"]; n: number }>();
  for (const position of positions) {
    const side = sideOf(position);
    const [low, high] = bounds[side];
    const snapped = low + Math.round((acrossRoad(position, widthPx, pitch / 2) - low) / pitch) * pitch;
    const candidates = columnsFor(side, Math.min(high, Math.max(low, snapped)), pitch, low, high);
    const x = candidates.find((at) => (columns.get(`${side} ${at}`)?.n ?? 0) < roomFor) ?? candidates[0] ?? low;
    const key = `${side} ${x}`;
    columns.set(key, { x, side, n: (columns.get(key)?.n ?? 0) + 1 });
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
