/** Facts to state, order-free; the twin of server/brinebook/planning/fold.py, held to it by shared vectors. */

import type { FactEvent } from "@/protocol/records.ts";

const CORRECTIONS: ReadonlySet<string> = new Set(["amend", "void", "link", "unlink"]);

export interface Folded {
  /** The facts that count, amended, in id order. */
  readonly live: ReadonlyMap<string, FactEvent>;
  /** The voided facts and the lesser twins. */
  readonly ignored: ReadonlySet<string>;
}

interface Tie {
  readonly a: string;
  readonly b: string;
  readonly keep: string;
}

const textOrder = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);

/** The one order all replicas agree on. */
export function stampOrder(a: FactEvent, b: FactEvent): number {
  return a.lamport - b.lamport || textOrder(a.id, b.id);
}

function objectOf(value: unknown): Record<string, unknown> | null {
  return typeof value === "object" && value !== null && !Array.isArray(value) ? (value as Record<string, unknown>) : null;
}

function ofKinds(active: readonly FactEvent[], ...kinds: string[]): FactEvent[] {
  return active.filter((event) => kinds.includes(event.kind)).sort(stampOrder);
}

function winningFields(active: readonly FactEvent[]): Map<string, Record<string, unknown>> {
  const won = new Map<string, Record<string, unknown>>();
  for (const event of ofKinds(active, "amend")) {
    const body = objectOf(event.body);
    const set = body?.["set"] === undefined ? {} : objectOf(body["set"]);
    if (event.ref && set !== null) won.set(event.ref, { ...won.get(event.ref), ...set });
  }
  return won;
}

function tieOf(event: FactEvent): Tie | null {
  const body = objectOf(event.body);
  if (body === null) return null;
  const { a = "", b = "", keep = "" } = body;
  return typeof a === "string" && typeof b === "string" && typeof keep === "string" ? { a, b, keep } : null;
}

function tiesInForce(active: readonly FactEvent[], facts: ReadonlyMap<string, FactEvent>): Tie[] {
  const latest = new Map<string, { event: FactEvent; tie: Tie }>();
  for (const event of ofKinds(active, "link", "unlink")) {
    const tie = tieOf(event);
    if (tie !== null) latest.set([tie.a, tie.b].sort(textOrder).join(" "), { event, tie });
  }
  return [...latest.values()]
    .filter(({ event, tie }) => event.kind === "link" && facts.has(tie.a) && facts.has(tie.b))
    .sort((one, other) => stampOrder(one.event, other.event))
    .map(({ tie }) => tie);
}

/** Of each linked group only the fact kept by the latest link counts, or else the smallest id. */
function lesserTwins(active: readonly FactEvent[], facts: ReadonlyMap<string, FactEvent>): Set<string> {
  const ties = tiesInForce(active, facts);
  const group = new Map<string, ReadonlySet<string>>();
  for (const { a, b } of ties) {
    const joined = new Set([...(group.get(a) ?? [a]), ...(group.get(b) ?? [b])]);
    for (const member of joined) group.set(member, joined);
  }
  const kept = new Map<ReadonlySet<string>, string>();
  for (const members of group.values()) kept.set(members, [...members].sort(textOrder)[0] ?? "");
  for (const { a, keep } of ties) {
    const members = group.get(a);
    if (members?.has(keep)) kept.set(members, keep);
  }
  const survivors = new Set(kept.values());
  return new Set([...group.keys()].filter((member) => !survivors.has(member)));
}

/** Fold facts into the state they describe; any order, repetition or batching gives the same answer. */
export function fold(events: Iterable<FactEvent>): Folded {
  const byId = new Map<string, FactEvent>();
  for (const event of events) byId.set(event.id, event);
  const voided = new Set<string>();
  for (const event of byId.values()) if (event.kind === "void" && event.ref) voided.add(event.ref);
  const active = [...byId.values()].filter((event) => !voided.has(event.id));
  const facts = new Map(active.filter((event) => !CORRECTIONS.has(event.kind)).map((event) => [event.id, event]));
  const twins = lesserTwins(active, facts);
  const amends = winningFields(active);
  const live = new Map<string, FactEvent>();
  for (const key of [...facts.keys()].sort(textOrder)) {
    const event = facts.get(key);
    if (event === undefined || twins.has(key)) continue;
    const fields = amends.get(key);
    live.set(key, fields === undefined ? event : { ...event, body: { ...objectOf(event.body), ...fields } });
  }
  const isTakenBack = (id: string): boolean => !CORRECTIONS.has(byId.get(id)?.kind ?? "void");
  return { live, ignored: new Set([...[...voided].filter(isTakenBack), ...twins]) };
}

/** The fold with one more fact, made just now: nothing can name it yet, and its id is the latest. Null: fold them all. */
export function withFresh(before: Folded, event: FactEvent): Folded | null {
  let latest = "";
  for (const id of before.live.keys()) latest = id;
  if (CORRECTIONS.has(event.kind) || textOrder(latest, event.id) >= 0 || before.ignored.has(event.id)) return null;
  return { live: new Map(before.live).set(event.id, event), ignored: before.ignored };
}
