/**
 * Entries that may be one bottle: same rider, kind and item, other author, close in time and volume.
 *
 * Shown, linked by a tap, taken apart by another; never merged alone. Held to the server by tests/sync/twin_vectors.json.
 */

import type { Folded } from "@/core/fold.ts";
import { stampOrder } from "@/core/fold.ts";
import type { FactEvent, LinkBody } from "@/protocol/records.ts";

const WINDOW_MS = 10 * 60_000;
/** A phone that never heard the server's time may be this far off; common practice, no source. */
const UNKNOWN_CLOCK_MS = 2 * 60_000;
const VOLUME_TOLERANCE_FRAC = 0.2;
/** Litres that differ by rounding alone are the same. */
const ROUNDING_L = 1e-9;
/** So many entries before and after are compared: no bottle has more twins, and a flood of entries stays cheap. */
const NEIGHBOURS = 24;
const KINDS: ReadonlySet<string> = new Set(["drank", "handed_up", "came_back", "poured", "lost", "ate"]);
/** What one person weighs or counts is better known than what another recalls. */
const HOW_RANK = ["weighed", "counted", "count", "level", "recall"];

export interface Twin {
  /** The better known entry, which a link keeps. */
  readonly one: FactEvent;
  readonly other: FactEvent;
}

interface Loose {
  readonly drink_id?: unknown;
  readonly food_id?: unknown;
  readonly volume_l?: unknown;
  readonly left_l?: unknown;
  readonly n_bottles?: unknown;
  readonly n_units?: unknown;
  readonly how?: unknown;
}

const bodyOf = (event: FactEvent): Loose => (event.body ?? {}) as Loose;
const number = (value: unknown, otherwise: number): number => (typeof value === "number" ? value : otherwise);

function itemOf(event: FactEvent): string {
  const { drink_id, food_id } = bodyOf(event);
  return String(drink_id ?? food_id ?? "");
}

/** Litres, or units for food. */
function amountOf(event: FactEvent): number {
  const body = bodyOf(event);
  if (event.kind === "ate") return number(body.n_units, 0);
  if (event.kind === "came_back") return number(body.left_l, 0);
  return number(body.volume_l, 0) * (event.kind === "handed_up" ? number(body.n_bottles, 1) : 1);
}

const instantOf = (event: FactEvent): number => event.at_ms + (event.offset_ms ?? 0);
const doubtOf = (event: FactEvent): number => (event.offset_ms === undefined || event.offset_ms === null ? UNKNOWN_CLOCK_MS : 0);

function isAlike(a: FactEvent, b: FactEvent): boolean {
  return a.by !== b.by && a.kind === b.kind && a.subject_id === b.subject_id && (a.stage_id ?? null) === (b.stage_id ?? null)
    && itemOf(a) === itemOf(b);
}

function mayBeOne(a: FactEvent, b: FactEvent): boolean {
  const apartMs = Math.abs(instantOf(a) - instantOf(b));
  const [x, y] = [amountOf(a), amountOf(b)];
  return isAlike(a, b) && apartMs <= WINDOW_MS + doubtOf(a) + doubtOf(b)
    && Math.abs(x - y) <= VOLUME_TOLERANCE_FRAC * Math.max(x, y) + ROUNDING_L;
}

const pairKey = (a: string, b: string): string => [a, b].sort().join(" ");

function rankOf(event: FactEvent): number {
  const place = HOW_RANK.indexOf(String(bodyOf(event).how));
  return place < 0 ? HOW_RANK.length : place;
}

function ordered(a: FactEvent, b: FactEvent): Twin {
  const isFirst = rankOf(a) - rankOf(b) || instantOf(a) - instantOf(b) || (a.id < b.id ? -1 : 1);
  return isFirst <= 0 ? { one: a, other: b } : { one: b, other: a };
}

/** The pairs that somebody has said are two bottles, by the latest word on each. */
function saidToBeTwo(events: Iterable<FactEvent>): Set<string> {
  const all = [...events];
  const voided = new Set(all.filter(({ kind }) => kind === "void").map(({ ref }) => ref));
  const words = all.filter((event) => (event.kind === "link" || event.kind === "unlink") && !voided.has(event.id)).sort(stampOrder);
  const latest = new Map(words.map((event) => {
    const { a, b } = event.body as LinkBody;
    return [pairKey(a, b), event.kind];
  }));
  return new Set([...latest].filter(([, kind]) => kind === "unlink").map(([key]) => key));
}

/** Likely twins among the facts that count, nearest in time first; each fact is in one pair at most. */
export function twinsOf(folded: Folded, events: Iterable<FactEvent>): Twin[] {
  const facts = [...folded.live.values()].filter(({ kind }) => KINDS.has(kind));
  const two = saidToBeTwo(events);
  const pairs: [number, string, Twin][] = [];
  for (const group of grouped(facts).values()) {
    group.sort((a, b) => instantOf(a) - instantOf(b) || (a.id < b.id ? -1 : 1)).forEach((a, i) => {
      for (const b of group.slice(i + 1, i + 1 + NEIGHBOURS)) {
        if (!mayBeOne(a, b)) continue;
        const key = pairKey(a.id, b.id);
        if (!two.has(key)) pairs.push([Math.abs(instantOf(a) - instantOf(b)), key, ordered(a, b)]);
      }
    });
  }
  const used = new Set<string>();
  return pairs.sort(([t, key], [u, other]) => t - u || (key < other ? -1 : 1)).flatMap(([, , twin]) => {
    if (used.has(twin.one.id) || used.has(twin.other.id)) return [];
    used.add(twin.one.id).add(twin.other.id);
    return [twin];
  });
}

/** Facts that are alike in all but author, time and amount: three weeks hold thousands, a group a handful. */
function grouped(facts: readonly FactEvent[]): Map<string, FactEvent[]> {
  const found = new Map<string, FactEvent[]>();
  for (const fact of facts) {
    const key = `${fact.subject_id} ${fact.kind} ${fact.stage_id ?? ""} ${itemOf(fact)}`;
    const known = found.get(key);
    if (known === undefined) found.set(key, [fact]);
    else known.push(fact);
  }
  return found;
}

/** Litres of one kind as a range: if all likely twins are one bottle each, and if none is. */
export function rangeL(facts: readonly FactEvent[], twins: readonly Twin[], kind: string): readonly [low: number, high: number] {
  const mine = new Set(facts.map(({ id }) => id));
  const high = facts.filter((fact) => fact.kind === kind).reduce((sum, fact) => sum + amountOf(fact), 0);
  const doubled = twins.filter(({ other }) => other.kind === kind && mine.has(other.id));
  return [high - doubled.reduce((sum, { other }) => sum + amountOf(other), 0), high];
}

/** Links in force, for the tap that takes one apart again. */
export function linkedPairs(folded: Folded, events: ReadonlyMap<string, FactEvent>): Twin[] {
  const two = saidToBeTwo(events.values());
  const found = new Map<string, Twin>();
  for (const event of events.values()) {
    if (event.kind !== "link") continue;
    const { a, b } = event.body as LinkBody;
    const [one, other] = [events.get(a), events.get(b)];
    if (one === undefined || other === undefined || two.has(pairKey(a, b))) continue;
    if (folded.live.has(a) !== folded.live.has(b)) found.set(pairKey(a, b), folded.live.has(a) ? { one, other } : { one: other, other: one });
  }
  return [...found.values()];
}
