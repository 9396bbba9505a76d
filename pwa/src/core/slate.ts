/** The lane word where only a bottle sheet may be seen: litres against two kerbs, no losses. */

import { finishKm } from "@/core/sections.ts";
import type { BottleSheet, LaneWord, PlanStep, Stage } from "@/protocol/records.ts";

/** Common practice, no source: a stage without a schedule is taken at this speed. */
const DEFAULT_KM_PER_H = 40;

/** Roughly where the race is, by the clock and the schedule; null off the road. */
export function kmByClock(stage: Stage, nowMs: number): number | null {
  const finish = finishKm(stage);
  const durationH = stage.scheduled_duration_h ?? finish / DEFAULT_KM_PER_H;
  const share = (nowMs - stage.start_at_ms) / 3_600_000 / durationH;
  return share < 0 || share > 1 ? null : share * finish;
}

/** Litres the plan has still to be drunk from a kilometre on; each step is drunk evenly along its stretch. */
export function stillPlannedL(steps: readonly PlanStep[], km: number): number {
  return steps.reduce((sum, { km: from, until_km: to, drink_l: drinkL = 0 }) => {
    const share = to > from ? Math.min(1, Math.max(0, (to - km) / (to - from))) : Number(to >= km);
    return sum + drinkL * share;
  }, 0);
}

/** The stage's lane word for what would be drunk in all; kerbs that meet leave no lane to be in. */
export function slateWord(intakeL: number | null, sheet: BottleSheet | null): LaneWord {
  if (intakeL === null) return "nothing_noted";
  const { kerb_low_l: low, kerb_high_l: high } = sheet ?? {};
  if (low === undefined || high === undefined || high <= low) return "cant_tell";
  if (intakeL < low) return "dry";
  return intakeL > high ? "wet" : "in_lane";
}
