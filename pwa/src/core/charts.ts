/** Charts as pure functions: data in, SVG path strings out. No DOM, no colour, no words. */

export type Point = readonly [x: number, y: number];

/** The drawing area inside an SVG view box [px]. */
export interface Frame {
  width: number;
  height: number;
  left: number;
  right: number;
  top: number;
  bottom: number;
}

/** A straight mapping from data to pixels. */
export function linear(from: Point, to: Point): (value: number) => number {
  const span = from[1] - from[0];
  const slope = span === 0 ? 0 : (to[1] - to[0]) / span;
  return (value) => to[0] + (value - from[0]) * slope;
}

export function xScale(frame: Frame, low: number, high: number): (value: number) => number {
  return linear([low, high], [frame.left, frame.width - frame.right]);
}

export function yScale(frame: Frame, low: number, high: number): (value: number) => number {
  return linear([low, high], [frame.height - frame.bottom, frame.top]);
}

/** Tick values from zero or below up to `high`, on 1-2-5 steps. */
export function ticks(low: number, high: number, about: number): number[] {
  const span = high - low;
  if (!(span > 0)) return [low];
  const rough = span / Math.max(1, about);
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((m) => m * power).find((s) => s >= rough - 1e-9) ?? 10 * power;
  const found: number[] = [];
  for (let i = Math.ceil(low / step - 1e-9); i * step <= high + step * 1e-9; i += 1) found.push(tidy(i * step));
  return found;
}

/** The top of an axis: the next tick at or above the greatest value. */
export function ceiling(high: number, about: number): number {
  const marks = ticks(0, Math.max(high, 1e-6), about);
  const step = marks[1] === undefined ? high : marks[1] - (marks[0] ?? 0);
  return tidy(Math.ceil(high / step - 1e-9) * step);
}

export function linePath(points: readonly Point[]): string {
  return points.map(([x, y], i) => `${i === 0 ? "M" : "L"}${px(x)} ${px(y)}`).join("");
}

/** The closed area between an upper and a lower edge over the same places. */
export function bandPath(upper: readonly Point[], lower: readonly Point[]): string {
  if (upper.length < 2 || lower.length < 2) return "";
  return `${linePath(upper)}${linePath([...lower].reverse()).replace("M", "L")}Z`;
}

/** Each value holds until the next place: what has been handed over so far. */
export function stepPath(points: readonly Point[]): string {
  return points
    .map(([x, y], i) => (i === 0 ? `M${px(x)} ${px(y)}` : `H${px(x)}V${px(y)}`))
    .join("");
}

/** Ground under a road profile. */
export function groundPath(points: readonly Point[], baseY: number): string {
  const first = points[0];
  const last = points[points.length - 1];
  if (first === undefined || last === undefined || points.length < 2) return "";
  return `${linePath(points)}L${px(last[0])} ${px(baseY)}L${px(first[0])} ${px(baseY)}Z`;
}

/** A line with holes: a missing value lifts the pen and is never bridged. */
export function sparkline(values: readonly (number | null)[], frame: Frame, low: number, high: number): string {
  const x = xScale(frame, 0, Math.max(1, values.length - 1));
  const y = yScale(frame, low, high);
  let path = "";
  let isDown = false;
  values.forEach((value, i) => {
    if (value === null) {
      isDown = false;
      return;
    }
    path += `${isDown ? "L" : "M"}${px(x(i))} ${px(y(value))}`;
    isDown = true;
  });
  return path;
}

/** The median of each value and the two before it, holes left out. */
export function medianOfThree(values: readonly (number | null)[]): (number | null)[] {
  return values.map((_, i) => {
    const near = values.slice(Math.max(0, i - 2), i + 1).filter((v): v is number => v !== null);
    return near.length === 0 ? null : median(near);
  });
}

export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const mid = Math.floor(sorted.length / 2);
  const high = sorted[mid] ?? 0;
  return sorted.length % 2 === 1 ? high : ((sorted[mid - 1] ?? high) + high) / 2;
}

export type MiniShape = "hollow" | "dot" | "square" | "bar" | "none";

/** One settled stage between two kerbs: where the mark stands, how wide it is, which shape it has. */
export interface MiniLane {
  shape: MiniShape;
  x: number;
  halfWidth: number;
}

export const MINI_WIDTH = 44;
export const MINI_HEIGHT = 24;
export const MINI_KERB_LEFT = 12;
export const MINI_KERB_RIGHT = 32;

const SIDE_RANGE = { dry: [0.0, 8.0], in_lane: [17.0, 27.0], wet: [36.0, 44.0] } as const;

/**
 * Place one mark. `share` is 0 at the left kerb and 1 at the right one; the word rules the side, so that a mark
 * never stands on the other side of a kerb than the word beside it.
 */
export function miniLane(
  word: "dry" | "in_lane" | "wet" | "cant_tell" | "nothing_noted", share: number | null, spreadShare: number,
): MiniLane {
  if (word === "nothing_noted") return { shape: "none", x: 0, halfWidth: 0 };
  if (word === "cant_tell") return { shape: "bar", x: MINI_WIDTH / 2, halfWidth: MINI_WIDTH / 2 - 2 };
  const shape: MiniShape = word === "dry" ? "hollow" : word === "wet" ? "square" : "dot";
  const half = Math.min(9, Math.max(4, spreadShare * (MINI_KERB_RIGHT - MINI_KERB_LEFT)));
  const [low, high] = SIDE_RANGE[word];
  const middle = (low + high) / 2;
  const wanted = share === null ? middle : linear([0, 1], [MINI_KERB_LEFT, MINI_KERB_RIGHT])(share);
  const x = Math.min(high - 4 * Number(word === "wet"), Math.max(low + 5 * Number(word === "dry"), wanted));
  return { shape, x, halfWidth: word === "in_lane" ? half : Math.min(half, 4) };
}

/** Thin a long course to at most `limit` points and keep both ends. */
export function thinned<T>(points: readonly T[], limit: number): T[] {
  if (points.length <= limit) return [...points];
  const step = (points.length - 1) / (limit - 1);
  return Array.from({ length: limit }, (_, i) => points[Math.round(i * step)]).filter((p): p is T => p !== undefined);
}

function px(value: number): string {
  return String(Math.round(value * 10) / 10);
}

function tidy(value: number): number {
  return Number(value.toPrecision(12));
}
