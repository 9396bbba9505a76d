/** One rider's stage as a row of the Settle table: facts first, the server's settlement behind them. */

import { stampOrder } from "@/core/fold.ts";
import type {
  AgreedBody, CameBackBody, DrankBody, EvidenceKind, FactEvent, HandedUpBody, LaneWord, LostBody, PouredBody,
  ReopenedBody, Settlement, WeighedBody,
} from "@/protocol/records.ts";

export type RowState = "open" | "proposed" | "settled";
export type Missing = "before" | "after" | null;

export interface Figure {
  value: number | null;
  evidence: EvidenceKind | null;
}

/** Raw figures of one rider's stage; every volume in litres, every mass in kilograms. */
export interface Facts {
  handedUpL: Figure;
  cameBackL: Figure;
  pouredL: Figure;
  lostL: Figure;
  notedL: Figure;
  before: WeighedBody | null;
  after: WeighedBody | null;
  agreed: { drunkL: number; by: string; atMs: number; reason: string } | null;
  reopenedReason: string | null;
  nFacts: number;
}

export interface SettleRow {
  riderId: string;
  up: Figure;
  back: Figure;
  poured: Figure;
  lost: Figure;
  noted: Figure;
  derivedL: number | null;
  proposedL: number | null;
  proposedSdL: number;
  /** While two notes may be one bottle: what was drunk if they are, and if they are not. */
  range: readonly [lowL: number, highL: number] | null;
  proposedEvidence: EvidenceKind | null;
  agreedL: number | null;
  agreedBy: string | null;
  agreedAtMs: number | null;
  agreedReason: string;
  massBeforeKg: number | null;
  massAfterKg: number | null;
  foodKg: number;
  voidL: number;
  energyKcal: number | null;
  expectedLowL: number | null;
  expectedHighL: number | null;
  sweatL: number | null;
  changeFrac: number | null;
  lane: LaneWord;
  state: RowState;
  missing: Missing;
}

export type SanityCode =
  | "unseen" | "unaccounted" | "over_noted" | "heavier" | "sweat_high" | "sweat_low" | "no_before" | "no_after" | "deep_loss";

/** A sentence of the check, in code and numbers; the words stand in the catalogue. */
export interface Sanity {
  code: SanityCode;
  severity: "note" | "caution" | "medical";
  values: Readonly<Record<string, number>>;
}

const UNSEEN_L = 0.25;
const SAME_L = 0.025;
const HEAVIER_KG = 0.15;
const DEEP_LOSS_FRAC = 0.04;
const OUTSIDE_SHARE = 0.25;
const RANK: Readonly<Record<EvidenceKind, number>> = {
  weighed: 0, measured: 0, counted: 1, tapped: 2, recalled: 3, predicted: 4, default: 5,
};

/** The better of two kinds of evidence. */
export function betterEvidence(a: EvidenceKind | null, b: EvidenceKind | null): EvidenceKind | null {
  if (a === null) return b;
  if (b === null) return a;
  return RANK[a] <= RANK[b] ? a : b;
}

function worseEvidence(a: EvidenceKind | null, b: EvidenceKind): EvidenceKind {
  return a === null || RANK[a] < RANK[b] ? b : a;
}

function added(figure: Figure, volumeL: number, evidence: EvidenceKind): Figure {
  return { value: (figure.value ?? 0) + volumeL, evidence: worseEvidence(figure.evidence, evidence) };
}

const NOTHING: Figure = { value: null, evidence: null };

function noFacts(): Facts {
  return {
    handedUpL: NOTHING, cameBackL: NOTHING, pouredL: NOTHING, lostL: NOTHING, notedL: NOTHING,
    before: null, after: null, agreed: null, reopenedReason: null, nFacts: 0,
  };
}

/** What a stage fact adds to the row; kinds this table does not show are left alone. */
const APPLY: Readonly<Record<string, (facts: Facts, event: FactEvent) => Facts>> = {
  handed_up: (facts, event) => {
    const body = event.body as HandedUpBody;
    return { ...facts, handedUpL: added(facts.handedUpL, (body.n_bottles ?? 1) * body.volume_l, "counted") };
  },
  came_back: (facts, event) => {
    const body = event.body as CameBackBody;
    return { ...facts, cameBackL: added(facts.cameBackL, body.left_l, body.how) };
  },
  poured: (facts, event) => ({
    ...facts, pouredL: added(facts.pouredL, (event.body as PouredBody).volume_l, "tapped"),
  }),
  lost: (facts, event) => ({ ...facts, lostL: added(facts.lostL, (event.body as LostBody).volume_l, "tapped") }),
  drank: (facts, event) => {
    const body = event.body as DrankBody;
    const how = { level: "tapped", count: "counted", recall: "recalled" } as const;
    return { ...facts, notedL: added(facts.notedL, body.volume_l, how[body.how]) };
  },
  weighed: (facts, event) => {
    const body = event.body as WeighedBody;
    return body.moment === "before" ? { ...facts, before: body } : { ...facts, after: body };
  },
  agreed: (facts, event) => {
    const body = event.body as AgreedBody;
    const agreed = { drunkL: body.drunk_l, by: event.by, atMs: event.at_ms, reason: body.reason ?? "" };
    return { ...facts, agreed, reopenedReason: null };
  },
  reopened: (facts, event) => ({
    ...facts, agreed: null, reopenedReason: (event.body as ReopenedBody).reason,
  }),
};

/** Fold one rider's stage. Events must already be free of what was taken back. */
export function stageFacts(events: Iterable<FactEvent>, riderId: string, stageId: string): Facts {
  const mine = [...events].filter((e) => e.subject_id === riderId && e.stage_id === stageId);
  mine.sort(stampOrder);
  let facts = noFacts();
  for (const event of mine) {
    const apply = APPLY[event.kind];
    if (apply !== undefined) facts = { ...apply(facts, event), nFacts: facts.nFacts + 1 };
  }
  return facts;
}

function fromServer(value: number | undefined, isKnown: boolean): Figure {
  return isKnown && value !== undefined ? { value, evidence: null } : NOTHING;
}

function raw(fact: Figure, server: number | undefined, isKnown: boolean): Figure {
  return fact.value !== null ? fact : fromServer(server, isKnown);
}

/** handed up − came back − poured − lost; unknown while nothing was handed up. */
export function derivedDrunkL(up: Figure, back: Figure, poured: Figure, lost: Figure): number | null {
  if (up.value === null || up.value === 0) return null;
  return Math.max(0, up.value - (back.value ?? 0) - (poured.value ?? 0) - (lost.value ?? 0));
}

function stateOf(agreedL: number | null, proposedL: number | null, missing: Missing): RowState {
  if (agreedL !== null) return "settled";
  return proposedL !== null && missing === null ? "proposed" : "open";
}

/** What the bottles of a row say: handed up less what did not go down, or else what was noted. */
function bottledL(facts: Facts): number {
  return derivedDrunkL(facts.handedUpL, facts.cameBackL, facts.pouredL, facts.lostL) ?? facts.notedL.value ?? 0;
}

/** The ends of the range, from this device's own facts and the lesser of each pair: what went up twice, or went down twice. */
export function rangeOf(events: readonly FactEvent[], lesser: ReadonlySet<string>, riderId: string, stageId: string): SettleRow["range"] {
  if (!events.some(({ id }) => lesser.has(id))) return null;
  const adds = (event: FactEvent): boolean => event.kind === "handed_up" || event.kind === "drank";
  const without = (isGone: (event: FactEvent) => boolean): FactEvent[] => events.filter((event) => !(lesser.has(event.id) && isGone(event)));
  const ends = [events, without(adds), without((event) => !adds(event)), without(() => true)];
  const litres = ends.map((kept) => bottledL(stageFacts(kept, riderId, stageId)));
  const [low, high] = [Math.min(...litres), Math.max(...litres)];
  return low === high ? null : [low, high];
}

/** Join what this device holds with what the server computed; a fact on this device always shows at once. */
export function settleRow(riderId: string, facts: Facts, doc: Settlement | null, range: SettleRow["range"] = null): SettleRow {
  const isKnown = doc !== null && facts.nFacts === 0;
  const up = raw(facts.handedUpL, doc?.handed_up_l, isKnown);
  const back = raw(facts.cameBackL, doc?.came_back_l, isKnown);
  const poured = raw(facts.pouredL, doc?.poured_l, isKnown);
  const lost = raw(facts.lostL, doc?.lost_l, isKnown);
  const noted = raw(facts.notedL, doc?.noted_drunk_l, isKnown);
  const derivedL = derivedDrunkL(up, back, poured, lost);
  const proposedL = proposal(derivedL, noted, doc, range);
  const agreedL = facts.reopenedReason !== null ? null : (facts.agreed?.drunkL ?? doc?.agreed_drunk_l ?? null);
  const massBeforeKg = facts.before?.mass_kg ?? doc?.mass_before_kg ?? null;
  const massAfterKg = facts.after?.mass_kg ?? doc?.mass_after_kg ?? null;
  const missing: Missing = massBeforeKg === null ? "before" : massAfterKg === null ? "after" : null;
  const foodKg = facts.after?.food_kg ?? doc?.food_kg ?? 0;
  const voidL = facts.after?.urine_l ?? doc?.urine_l ?? 0;
  const drunkL = agreedL ?? proposedL;
  return {
    riderId, up, back, poured, lost, noted, derivedL, proposedL, proposedSdL: doc?.drunk_sd_l ?? 0, range: agreedL === null ? range : null,
    proposedEvidence: doc?.drunk_evidence ?? betterEvidence(up.evidence, noted.evidence),
    agreedL, agreedBy: agreedL === null ? null : (facts.agreed?.by ?? doc?.agreed_by ?? null),
    agreedAtMs: agreedL === null ? null : (facts.agreed?.atMs ?? null),
    agreedReason: facts.agreed?.reason ?? "",
    massBeforeKg, massAfterKg, foodKg, voidL, energyKcal: facts.after?.energy_kcal ?? null,
    expectedLowL: doc?.predicted_q10_l ?? null, expectedHighL: doc?.predicted_q90_l ?? null,
    sweatL: doc?.sweat_loss_l ?? null,
    changeFrac: massChangeFrac(massBeforeKg, massAfterKg),
    lane: laneOf(doc, drunkL), state: stateOf(agreedL, proposedL, missing), missing,
  };
}

/** Nothing handed up and nothing noted is no proposal of nothing: nobody knows, and nobody agrees by a slip. */
function proposal(derivedL: number | null, noted: Figure, doc: Settlement | null, range: SettleRow["range"]): number | null {
  const isKnown = derivedL !== null || (noted.value ?? 0) > 0;
  const ownL = range === null ? (derivedL ?? noted.value) : (range[0] + range[1]) / 2;
  return isKnown ? (doc?.proposed_drunk_l ?? ownL) : null;
}

function laneOf(doc: Settlement | null, drunkL: number | null): LaneWord {
  if (doc !== null) return doc.lane;
  return drunkL === null ? "nothing_noted" : "cant_tell";
}

export function massChangeFrac(beforeKg: number | null, afterKg: number | null): number | null {
  return beforeKg === null || afterKg === null ? null : (afterKg - beforeKg) / beforeKg;
}

/** A typed figure that is not the proposed one needs a reason. */
export function needsReason(typedL: number, proposedL: number | null): boolean {
  return proposedL !== null && Math.abs(typedL - proposedL) > SAME_L;
}

/** Least settled first, then by race number. */
export function inSettleOrder<R extends { row: SettleRow; raceNumber: number }>(rows: readonly R[]): R[] {
  const rank: Readonly<Record<RowState, number>> = { open: 0, proposed: 1, settled: 2 };
  return [...rows].sort((a, b) => rank[a.row.state] - rank[b.row.state] || a.raceNumber - b.raceNumber);
}

/** What the scales and the bottles say against each other. */
export function sanity(row: SettleRow): Sanity[] {
  return [...missingWeights(row), ...bottleSanity(row), ...scaleSanity(row)];
}

function missingWeights(row: SettleRow): Sanity[] {
  if (row.missing === null) return [];
  return [{ code: row.missing === "before" ? "no_before" : "no_after", severity: "note", values: {} }];
}

function bottleSanity(row: SettleRow): Sanity[] {
  if (row.derivedL === null || row.noted.value === null) return [];
  const gapL = row.derivedL - row.noted.value;
  const values = { gap: Math.abs(gapL), noted: row.noted.value, up: row.up.value ?? 0, derived: row.derivedL };
  const unaccounted = unaccountedBottles(row, gapL, values);
  if (unaccounted !== null) return [unaccounted];
  if (gapL >= UNSEEN_L) return [{ code: "unseen", severity: "note", values }];
  if (gapL <= -UNSEEN_L) return [{ code: "over_noted", severity: "caution", values }];
  return [];
}

const USUAL_BOTTLE_L = 0.5;

/** Lighter on the scale, little noted, much handed up: whole bottles that nobody saw drunk or coming back. */
function unaccountedBottles(row: SettleRow, gapL: number, values: Sanity["values"]): Sanity | null {
  const bottles = Math.floor(gapL / USUAL_BOTTLE_L + 1e-9);
  if (bottles < 2 || row.massBeforeKg === null || row.massAfterKg === null || row.massAfterKg >= row.massBeforeKg) return null;
  return { code: "unaccounted", severity: "caution", values: { ...values, bottles, kg: row.massBeforeKg - row.massAfterKg } };
}

function scaleSanity(row: SettleRow): Sanity[] {
  const found: Sanity[] = [];
  if (row.massBeforeKg === null || row.massAfterKg === null) return found;
  const lighterKg = row.massBeforeKg - row.massAfterKg;
  if (lighterKg <= -HEAVIER_KG) {
    found.push({ code: "heavier", severity: "medical", values: { kg: -lighterKg } });
  }
  if (row.changeFrac !== null && row.changeFrac <= -DEEP_LOSS_FRAC) {
    found.push({ code: "deep_loss", severity: "caution", values: { frac: -row.changeFrac, kg: lighterKg } });
  }
  return [...found, ...sweatSanity(row, lighterKg)];
}

function sweatSanity(row: SettleRow, lighterKg: number): Sanity[] {
  if (row.sweatL === null || row.expectedLowL === null || row.expectedHighL === null) return [];
  const values = { sweat: row.sweatL, low: row.expectedLowL, high: row.expectedHighL, kg: lighterKg };
  if (row.sweatL > row.expectedHighL * (1 + OUTSIDE_SHARE)) return [{ code: "sweat_high", severity: "caution", values }];
  if (row.sweatL < row.expectedLowL * (1 - OUTSIDE_SHARE)) return [{ code: "sweat_low", severity: "caution", values }];
  return [];
}
