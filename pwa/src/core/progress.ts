/** Facts to the litres a person sees: how much, how it is known, and which bottles may be one. */

import type { Folded } from "@/core/fold.ts";
import type { DrankBody, EvidenceKind, FactEvent, HandedUpBody } from "@/protocol/records.ts";

const TWIN_WINDOW_MS = 10 * 60 * 1000;

export interface Totals {
  readonly drankL: number;
  readonly pouredL: number;
  readonly lostL: number;
  readonly handedUpL: number;
  readonly cameBackL: number;
  /** The best evidence among the entries of what was drunk; null when nothing is noted. */
  readonly drankEvidence: EvidenceKind | null;
}

export interface Twin {
  readonly one: FactEvent;
  readonly other: FactEvent;
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

const RANK: readonly EvidenceKind[] = ["weighed", "counted", "tapped", "recalled", "predicted", "default"];

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

/** Hand-ups of one item to one rider by two people within ten minutes: shown, never merged alone. */
export function twinsOf(facts: readonly FactEvent[]): Twin[] {
  const handUps = facts.filter((event) => event.kind === "handed_up");
  const found: Twin[] = [];
  handUps.forEach((one, i) => {
    const other = handUps.slice(i + 1).find((late) =>
      late.by !== one.by && late.subject_id === one.subject_id && late.at_ms - one.at_ms <= TWIN_WINDOW_MS
      && (late.body as HandedUpBody).drink_id === (one.body as HandedUpBody).drink_id);
    if (other !== undefined) found.push({ one, other });
  });
  return found;
}
