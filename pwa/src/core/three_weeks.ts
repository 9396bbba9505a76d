/** Three weeks at a glance: runs on one side, counts, and how good the forecasts were week by week. */

import type { AuditRow, LaneWord } from "@/protocol/records.ts";

/** One rider's stage in the table: null where nothing was noted. */
export interface DayMark {
  stageNumber: number;
  word: LaneWord;
  isSettled: boolean;
}

export interface Run {
  side: "dry" | "wet";
  from: number;
  to: number;
  length: number;
}

/** Longest run of raced stages on one side; a stage nobody noted breaks it. */
export function longestRun(days: readonly DayMark[]): Run | null {
  const runs: Run[] = [];
  let previous: LaneWord | null = null;
  for (const { word, stageNumber } of days) {
    const last = runs.at(-1);
    if (last !== undefined && word === previous && word === last.side) {
      runs[runs.length - 1] = { ...last, to: stageNumber, length: last.length + 1 };
    } else if (word === "dry" || word === "wet") {
      runs.push({ side: word, from: stageNumber, to: stageNumber, length: 1 });
    }
    previous = word;
  }
  return runs.reduce<Run | null>((best, run) => (best === null || run.length > best.length ? run : best), null);
}

export interface Tally {
  nNoted: number;
  nSettled: number;
  nDry: number;
  nIn: number;
  nWet: number;
}

/** Noted, settled and in lane are three different things and are counted apart. */
export function tally(days: readonly DayMark[]): Tally {
  const n = (test: (day: DayMark) => boolean): number => days.filter(test).length;
  return {
    nNoted: n((d) => d.word !== "nothing_noted"),
    nSettled: n((d) => d.isSettled),
    nDry: n((d) => d.word === "dry"),
    nIn: n((d) => d.word === "in_lane"),
    nWet: n((d) => d.word === "wet"),
  };
}

export interface ForecastScore {
  n: number;
  biasL: number;
  meanAbsoluteErrorL: number;
  coverageFrac: number;
}

/** Forecast less settled over a span of stages; null while nothing is settled there. */
export function forecastScore(rows: readonly AuditRow[], fromStage: number, toStage: number): ForecastScore | null {
  const span = rows.filter(([, stage]) => stage >= fromStage && stage <= toStage);
  if (span.length === 0) return null;
  const mean = (of: (row: AuditRow) => number): number => span.reduce((sum, row) => sum + of(row), 0) / span.length;
  return {
    n: span.length,
    biasL: mean(([, , predicted, settled]) => predicted - settled),
    meanAbsoluteErrorL: mean(([, , predicted, settled]) => Math.abs(predicted - settled)),
    coverageFrac: mean(([, , , , isInside]) => Number(isInside)),
  };
}

/** The same score for any choice of rows. */
export function scoreOf(rows: readonly AuditRow[]): ForecastScore | null {
  return forecastScore(rows, 0, Infinity);
}

/** A mass against the rider's own first weighings, as a share; holes stay holes. */
export function againstOwnLine(massesKg: readonly (number | null)[]): (number | null)[] {
  const first = massesKg.filter((m): m is number => m !== null).slice(0, 3);
  if (first.length === 0) return massesKg.map(() => null);
  const base = first.reduce((sum, m) => sum + m, 0) / first.length;
  return massesKg.map((m) => (m === null ? null : (m - base) / base));
}
