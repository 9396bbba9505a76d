/** A plan along the road as bands: what is owed by then, and where blood sodium lies. */

import type { StageForecast, StagePlan } from "@/protocol/records.ts";

export interface BandPoint {
  km: number;
  low: number;
  mid: number;
  high: number;
}

/** A value between two known places of a rising column. */
function between(points: readonly (readonly [number, number])[], km: number): number {
  const after = points.findIndex(([at]) => at >= km);
  const [right, left] = [points[after], points[after - 1]];
  if (right === undefined) return points.at(-1)?.[1] ?? 0;
  if (left === undefined || right[0] === left[0]) return right[1];
  return left[1] + ((km - left[0]) / (right[0] - left[0])) * (right[1] - left[1]);
}

/** Litres owed along the road: the loss band less what the plan has him drink by then. */
export function deficitBand(forecast: StageForecast, plan: StagePlan): BandPoint[] {
  const intake = [[0, 0] as const, ...plan.along.map((point) => [point[0], point[1]] as const)];
  return forecast.along.map(([km, , , q10, q50, q90]) => {
    const drunkL = between(intake, km);
    return { km, low: q10 - drunkL, mid: q50 - drunkL, high: q90 - drunkL };
  });
}

/** Blood sodium at the plan's own places, low and high end of the loss; it starts where nothing is known to differ. */
export function plasmaBand(plan: StagePlan, startMmolPerL = 140): BandPoint[] {
  return [
    { km: 0, low: startMmolPerL, mid: startMmolPerL, high: startMmolPerL },
    ...plan.along.map(([km, , , , low, high]) => ({ km, low, mid: (low + high) / 2, high })),
  ];
}
