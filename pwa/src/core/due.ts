/** What is next on the road, from the cached plan; the network is never asked. */

import type { PlanPoint, PlanStep, ProfilePoint } from "@/protocol/records.ts";

/** Where the rider should be after so many hours, by the forecast of his own stage; null off the road's clock. */
export function kmAt(elapsedH: number, along: readonly ProfilePoint[]): number | null {
  const last = along.at(-1);
  if (last === undefined || !(elapsedH >= 0 && elapsedH <= last[2])) return null;
  let before: readonly [km: number, h: number] = [0, 0];
  for (const [km, , h] of along) {
    if (h >= elapsedH) {
      const share = h > before[1] ? (elapsedH - before[1]) / (h - before[1]) : 1;
      return before[0] + share * (km - before[0]);
    }
    before = [km, h];
  }
  return last[0];
}

const hasBottles = (step: PlanStep): boolean => Object.values(step.bottles).some((n) => n > 0);

/** The next step of the plan that hands up a bottle: by kilometre when it is known, else by the litres drunk so far. */
export function nextStep(
  steps: readonly PlanStep[], along: readonly PlanPoint[], km: number | null, drankL: number,
): PlanStep | null {
  if (km !== null) return steps.find((step) => step.km > km && hasBottles(step)) ?? null;
  const index = along.findIndex((point) => point[1] > drankL + 0.05);
  return index < 0 ? null : (steps.slice(index + 1).find(hasBottles) ?? null);
}

/** Intake [L] the plan expects by a kilometre. */
export function plannedIntakeL(along: readonly PlanPoint[], km: number): number {
  let before: readonly [km: number, intakeL: number] = [0, 0];
  for (const [at, intakeL] of along) {
    if (at >= km) return before[1] + (at > before[0] ? (km - before[0]) / (at - before[0]) : 1) * (intakeL - before[1]);
    before = [at, intakeL];
  }
  return before[1];
}
