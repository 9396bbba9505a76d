/** Agreed figures that stand side by side: the twin of server/brinebook/planning/agreement.py. */

import { stampOrder } from "@/core/fold.ts";
import type { AgreedBody, FactEvent } from "@/protocol/records.ts";

const SAME_L = 0.025;

/** The agreed figures nobody has set aside, oldest first; a figure names those its author had seen. */
export function standingAgreed(events: Iterable<FactEvent>, riderId: string, stageId: string): FactEvent<AgreedBody>[] {
  const said = [...events].filter((e) => e.subject_id === riderId && e.stage_id === stageId
    && (e.kind === "agreed" || e.kind === "reopened")).sort(stampOrder);
  let standing: FactEvent<AgreedBody>[] = [];
  for (const event of said) {
    if (event.kind === "reopened") {
      standing = [];
      continue;
    }
    const over = (event.body as AgreedBody).over;
    standing = over === undefined || over === null ? [] : standing.filter((one) => !over.includes(one.id));
    standing.push(event as FactEvent<AgreedBody>);
  }
  return standing;
}

/** Figures that differ from the one in force and were agreed without either author seeing the other's. */
export function rivals(standing: readonly FactEvent<AgreedBody>[]): FactEvent<AgreedBody>[] {
  const last = standing.at(-1);
  if (last === undefined) return [];
  return standing.slice(0, -1).filter((one) => Math.abs(one.body.drunk_l - last.body.drunk_l) > SAME_L);
}
