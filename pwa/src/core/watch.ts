/** What somebody should look at today: few, ranked by harm, each once per rider. Drinking above losses stands first. */

import { stampOrder } from "@/core/fold.ts";
import type { AcknowledgedBody, FactEvent, Flag, MorningCheckBody, Severity, SymptomBody } from "@/protocol/records.ts";

export interface Concern {
  key: string;
  riderId: string;
  stageId: string | null;
  code: string;
  flag: Flag;
  rank: number;
  /** The document it comes from, to open "why". Empty for a fact. */
  documentId: string;
}

/** Gravest first. What is not named here stands behind, by its severity. */
const BY_HARM: readonly string[] = [
  "symptom_confused", "drank_above_losses", "symptom_vomiting", "symptom_headache", "symptom_puffy_hands", "physician_release", "plasma_floor",
  "feels_ill", "symptom_nausea", "symptom_dizzy", "mass_up_puffy", "deep_loss", "persistently_salty", "plasma_ceiling", "weigh_again", "morning_check",
  "morning_mass_below_band", "dry_days_in_a_row", "at_cap", "mix_too_strong", "mix_too_weak", "agreed_twice", "suspect_log",
  "unexplained_litres", "no_weigh_in",
];

/** Cautions that ask for a person today; every other one stands on the screen it belongs to. */
const WATCHED: ReadonlySet<string> = new Set([
  "weigh_again", "morning_check", "morning_mass_below_band", "dry_days_in_a_row", "at_cap", "mix_too_strong", "mix_too_weak",
  "agreed_twice", "suspect_log", "no_weigh_in",
]);
const BEHIND: Readonly<Record<Severity, number>> = { medical: 0, stop: 20, caution: 60, note: 100 };

export function harmRank(flag: Flag): number {
  const known = BY_HARM.indexOf(flag.code);
  // A medical flag never ranks behind one that is not, whatever its name.
  const within = known === -1 ? 50 : known;
  return BEHIND[flag.severity] * 100 + within;
}

/** A record with flags, as much of it as this page needs. */
export interface Flagged {
  id: string;
  rider_id: string;
  stage_id?: string;
  flags?: readonly Flag[];
}

/** The concerns of records, the later stage first where one rider has the same one twice. `placeOf` orders stages. */
export function concernsOf(records: readonly Flagged[], placeOf: (stageId: string) => number): Concern[] {
  const latest = new Map<string, Concern & { place: number }>();
  for (const record of records) {
    for (const flag of record.flags ?? []) {
      if (flag.severity === "note" || (flag.severity === "caution" && !WATCHED.has(flag.code))) continue;
      const stageId = record.stage_id ?? null;
      const place = stageId === null ? Infinity : placeOf(stageId);
      const key = `${record.rider_id} ${flag.code} ${flag.code === "sample_quality" ? (flag.detail ?? "") : ""}`.trim();
      const known = latest.get(key);
      if (known !== undefined && known.place >= place) continue;
      latest.set(key, { key, riderId: record.rider_id, stageId, code: flag.code, flag, rank: harmRank(flag), documentId: record.id, place });
    }
  }
  return [...latest.values()];
}

/** Symptoms and a yes to illness are facts, not flags; the last days' ones count. */
export function concernsOfFacts(events: Iterable<FactEvent>, sinceMs: number): Concern[] {
  const found = new Map<string, Concern>();
  for (const event of [...events].sort(stampOrder)) {
    if (event.at_ms < sinceMs) continue;
    const code = codeOfFact(event);
    if (code === null) continue;
    const flag: Flag = { code, severity: "medical", detail: event.kind === "symptom" ? (event.body as SymptomBody).symptom : "" };
    const key = `${event.subject_id} ${code}`;
    found.set(key, { key, riderId: event.subject_id, stageId: event.stage_id ?? null, code, flag, rank: harmRank(flag), documentId: "" });
  }
  return [...found.values()];
}

function codeOfFact(event: FactEvent): string | null {
  if (event.kind === "symptom") return `symptom_${(event.body as SymptomBody).symptom}`;
  return event.kind === "morning_check" && (event.body as MorningCheckBody).is_ill === true ? "feels_ill" : null;
}

export const ranked = (concerns: readonly Concern[]): Concern[] => [...concerns].sort((a, b) => a.rank - b.rank || a.key.localeCompare(b.key));

/** Who acknowledged a concern last, on the same rider and stage; null while nobody has. */
export function acknowledgedBy(events: Iterable<FactEvent>, concern: Concern): FactEvent<AcknowledgedBody> | null {
  const found = [...events].filter((event) => event.kind === "acknowledged" && event.subject_id === concern.riderId
    && (event.stage_id ?? null) === concern.stageId && (event.body as AcknowledgedBody).code === concern.code);
  return (found.sort(stampOrder).at(-1) as FactEvent<AcknowledgedBody> | undefined) ?? null;
}
