/** One pass: outbox up, verdicts and news down, page by page, until both sides have nothing more to say. */

import { PROTOCOL } from "@/protocol/decode.ts";
import type { ExchangeReply, FactEvent } from "@/protocol/records.ts";
import { waitingIn } from "@/store/facts.ts";
import { Refused, SHELVES, type News, type Offset, type Ports } from "@/store/ports.ts";
import { isStorageFull, makeRoom } from "@/store/room.ts";
import { applyReply, applyVerdicts, cursorIn, forgetPulled, type Applied, type Sent } from "@/sync/apply.ts";
import { checkDigest } from "@/sync/digest.ts";
import { setAsideTooLarge } from "@/sync/verdict.ts";

export const MOST_EVENTS = 200;
const MOST_BYTES = 240_000;
export const MOST_PAGES = 200;
const MOST_RESETS = 3;
const HANDED_OVER_MS = 3_600_000;
const OFFSET_KEPT_MS = 600_000;

/** What one running app remembers between passes. */
export interface Pace {
  batchSize: number;
  /** The last cursor and digest found to match, so that an idle pass reads nothing. */
  verified: string;
  /** Until when a revoked phone need not hand over again what it had passed on, in this history. */
  handedOver: { readonly epoch: string; readonly untilMs: number } | null;
}

export interface PassReport {
  readonly isChanged: boolean;
  /** Page by page what came, while nothing went; null: read the book again. */
  readonly news: readonly News[] | null;
  /** The server keeps others' figures back until the person shows who he is; entries were taken all the same. */
  readonly isHeldBack?: boolean;
  /** The server's refusal, or whatever kept it from answering; null when all was passed on. */
  readonly problem: unknown;
}

export const newPace = (): Pace => ({ batchSize: MOST_EVENTS, verified: "", handedOver: null });

export function fitting(events: readonly FactEvent[]): FactEvent[] {
  let bytes = 0;
  return events.filter((event, i) => {
    bytes += JSON.stringify(event).length + 1;
    return i === 0 || bytes <= MOST_BYTES;
  });
}

/** The quickest reply tells the clocks' difference best; a sample grown old gives way. */
function betterOffset(known: Offset | null, nowMs: number, beganMs: number, endedMs: number): Offset | null {
  const roundTripMs = endedMs - beganMs;
  const isUsable = roundTripMs >= 0;
  const isKept = known !== null && roundTripMs > known.roundTripMs && Math.abs(endedMs - known.atMs) < OFFSET_KEPT_MS;
  if (!isUsable || isKept) return null;
  return { ms: Math.round(nowMs - (beganMs + endedMs) / 2) + 0, roundTripMs, atMs: endedMs };
}

interface Answer {
  readonly reply: ExchangeReply;
  readonly sent: Sent;
}

export async function ask(ports: Ports, deviceId: string, events: readonly FactEvent[], limit: { limit?: number } = {}): Promise<Answer> {
  const { store, clock, net } = ports;
  const seals: Record<string, string> = {};
  const [cursor, known] = await store.read(["authored"], async (tx) => {
    for (const { id } of events) {
      const seal = (await tx.get("authored", id))?.seal;
      if (seal !== undefined) seals[id] = seal;
    }
    return [await cursorIn(tx), (await tx.recall("offset")) ?? null] as const;
  });
  const beganMs = clock.nowMs();
  const sealed = Object.keys(seals).length > 0 ? { seals } : {};
  const reply = await net.exchange({ protocol: PROTOCOL, device_id: deviceId, cursor, events: [...events], ...sealed, ...limit });
  return { reply, sent: { cursor, events, deviceId, offset: betterOffset(known, reply.now_ms, beganMs, clock.nowMs()) } };
}

async function apply(ports: Ports, { reply, sent }: Answer): Promise<Applied> {
  try {
    return await applyReply(ports, reply, sent);
  } catch (problem) {
    if (!isStorageFull(problem)) throw problem;
    await makeRoom(ports.store);
    return applyReply(ports, reply, sent).catch(async (stillFull: unknown) => {
      await applyVerdicts(ports, reply, sent);
      throw stillFull;
    });
  }
}

/** Take back a batch that was too long: half of it next time, or, alone, to the tray. */
export async function shorten(ports: Ports, pace: Pace, sent: readonly FactEvent[]): Promise<void> {
  const [only] = sent;
  if (sent.length > 1 || only === undefined) {
    pace.batchSize = Math.max(1, Math.floor(sent.length / 2));
    return;
  }
  await ports.store.write(SHELVES, (tx) => setAsideTooLarge(tx, only, ports.clock.nowMs()));
  ports.copies.remove([only.id]);
}

export const isTooLong = (problem: unknown): boolean => problem instanceof Refused && problem.status === 413;

async function isOutOfStep(ports: Ports, pace: Pace, reply: ExchangeReply): Promise<boolean> {
  const name = `${reply.cursor} ${JSON.stringify(reply.digest ?? null)}`;
  if (name === pace.verified) return false;
  const checked = await checkDigest(ports, reply);
  pace.verified = checked === "matches" ? name : "";
  return checked !== "matches";
}

interface Page {
  readonly goOn: boolean;
  readonly isChanged: boolean;
  readonly news: News | null;
  readonly isReset?: boolean;
  readonly isHeldBack?: boolean;
}

async function onePage(ports: Ports, pace: Pace, deviceId: string): Promise<Page> {
  const events = fitting(await waitingIn(ports.store, pace.batchSize));
  let answer: Answer;
  try {
    answer = await ask(ports, deviceId, events);
  } catch (problem) {
    if (!isTooLong(problem) || events.length === 0) throw problem;
    await shorten(ports, pace, events);
    return { goOn: true, isChanged: events.length === 1, news: null };
  }
  const { reply } = answer;
  pace.batchSize = Math.min(MOST_EVENTS, pace.batchSize * 2);
  if (reply.is_held_back === true) {
    await applyVerdicts(ports, reply, answer.sent);
    return { goOn: events.length > 0 && (await waitingIn(ports.store, 1)).length > 0, isChanged: events.length > 0, news: null, isHeldBack: true };
  }
  const applied = await apply(ports, answer);
  const isMoving = applied.isPushedAgain || applied.settled.length > 0;
  const isWaiting = isMoving && (await waitingIn(ports.store, 1)).length > 0;
  const { isChanged, isPushedAgain: isReset, news } = applied;
  if (reply.more || isWaiting || applied.isStale) return { goOn: true, isChanged, isReset, news };
  const goOn = await isOutOfStep(ports, pace, reply);
  return { goOn, isChanged, isReset: isReset || goOn, news: goOn ? null : news };
}

export const isRevoked = (problem: unknown): boolean => problem instanceof Refused && problem.code === "revoked";

/**
 * A revoked phone hands over what it made, for review, and forgets what it had read. What had been passed on goes along,
 * once in each history, and once an hour, since a server may be put back to an older state without saying so.
 */
export async function handOver(ports: Ports, pace: Pace, deviceId: string, epoch: string): Promise<void> {
  await forgetPulled(ports.store);
  const made = await ports.store.read(["outbox", "authored"], async (tx) => {
    const isDone = pace.handedOver?.epoch === epoch && ports.clock.nowMs() < pace.handedOver.untilMs;
    return [...(await tx.all("outbox")), ...(isDone ? [] : (await tx.all("authored")).map(({ event }) => event))];
  });
  for (let i = 0; i < made.length; i += MOST_EVENTS) {
    const problem = await ask(ports, deviceId, made.slice(i, i + MOST_EVENTS)).then(() => null, (refusal: unknown) => refusal);
    if (!isRevoked(problem)) return;
  }
  pace.handedOver = { epoch, untilMs: ports.clock.nowMs() + HANDED_OVER_MS };
}

/** Run one pass. Never rejects for a server that refuses or is silent; the report says so. */
export async function pass(ports: Ports, pace: Pace, deviceId: string): Promise<PassReport> {
  let isChanged = false;
  let nResets = 0;
  let isHeldBack = false;
  let news: News[] | null = [];
  try {
    // A server that begins anew each time, or never has what it took, is not to be followed for ever.
    for (let page = 0; page < MOST_PAGES && nResets < MOST_RESETS; page += 1) {
      const turned = await onePage(ports, pace, deviceId);
      isChanged ||= turned.isChanged;
      isHeldBack = turned.isHeldBack === true;
      news = news === null || turned.news === null ? null : [...news, turned.news];
      nResets += turned.isReset === true ? 1 : 0;
      if (!turned.goOn) break;
    }
    return { isChanged, news, isHeldBack, problem: null };
  } catch (problem) {
    if (problem instanceof Refused && isRevoked(problem)) await handOver(ports, pace, deviceId, problem.epoch);
    return { isChanged: true, news: null, problem };
  }
}
