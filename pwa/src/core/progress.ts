/** Facts to the litres a person sees: how much, and how it is known. */

import type { Folded } from "@/core/fold.ts";
import type { DrankBody, EvidenceKind, FactEvent } from "@/protocol/records.ts";

export interface Totals {
  readonly drankL: number;
  readonly pouredL: number;
  readonly lostL: number;
  readonly handedUpL: number;
  readonly cameBackL: number;
  /** The best evidence among the entries of what was drunk; null when nothing is noted. */
  readonly drankEvidence: EvidenceKind | null;
}

/** The facts that count about one rider on one stage, oldest first. */
export function factsOf(folded: Folded, subjectId: string, stageId: string | null): FactEvent[] {
  return [...folded.live.values()]
    .filter((event) => event.subject_id === subjectId && (event.stage_id ?? null) === stageId)
    .sort((a, b) => a.at_ms - b.at_ms);
}

export function evidenceOf(event: FactEvent): EvidenceKind {
  const how = (event.body as Partial<DrankBody> | null)?.how as string | undefined;
  if (how === "recall") return "recalled";
  if (how === "weighed" || event.kind === "weighed") return "weighed";
  return how === "count" || how === "counted" || event.kind === "handed_up" ? "counted" : "tapped";
}

const RANK: readonly EvidenceKind[] = ["weighed", "measured", "counted", "tapped", "recalled", "predicted", "default"];

const volumeOf = (event: FactEvent): number => {
  const body = event.body as { volume_l?: number; left_l?: number; n_bottles?: number };
  return (body.volume_l ?? body.left_l ?? 0) * (event.kind === "handed_up" ? (body.n_bottles ?? 1) : 1);
};

export function totals(facts: readonly FactEvent[]): Totals {
  const sum = (kind: string): number =>
    facts.filter((event) => event.kind === kind).reduce((total, event) => total + volumeOf(event), 0);
  const marks = facts.filter((event) => event.kind === "drank").map((event) => RANK.indexOf(evidenceOf(event)));
  return {
    drankL: sum("drank"),
    pouredL: sum("poured"),
    lostL: sum("lost"),
    handedUpL: sum("handed_up"),
    cameBackL: sum("came_back"),
    drankEvidence: marks.length === 0 ? null : (RANK[Math.min(...marks)] ?? null),
  };
}
