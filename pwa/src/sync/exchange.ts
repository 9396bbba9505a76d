/** Exchanges for this app: the platform's ports, one pass at a time over all tabs, and what the screens say of it. */

import { decodeReply, UnreadableReply } from "@/protocol/decode.ts";
import type { ExchangeReply, ExchangeRequest } from "@/protocol/records.ts";
import { journal } from "@/store/journal.ts";
import { addNews, readOffset, refresh, tellTabs } from "@/store/load.ts";
import { unsentSummary } from "@/store/outbox.ts";
import { Refused, type Clock, type Copies, type Ports, type Randomness, type Store } from "@/store/ports.ts";
import { onDisk } from "@/store/schema.ts";
import { isStorageFull } from "@/store/room.ts";
import { isHeldBack, isKeyRefused, lastPassedAtMs, link, session, tray, unsent } from "@/store/state.ts";
import { failed, succeeded } from "@/sync/backoff.ts";
import { isRevoked, newPace, pass } from "@/sync/pass.ts";
import { renewToken, takeTokenBefore } from "@/sync/token.ts";

const ANSWER_WITHIN_MS = 45_000;
const LOCK_WITHIN_MS = 60_000;
const PACKED_FROM = 4_000;
const LOCK = "brinebook-exchange";

const pace = newPace();
let running: Promise<void> | null = null;
let isAskedAgain = false;

async function refusalOf(reply: Response): Promise<Refused> {
  const after = Number(reply.headers.get("Retry-After"));
  const told = (await reply.json().catch(() => ({}))) as { code?: unknown; epoch?: unknown };
  return new Refused(reply.status, String(told.code ?? ""), Number.isFinite(after) && after > 0 ? after : null, String(told.epoch ?? ""));
}

/** A long push travels packed where the platform can; on a thin network that is a fifth of the bytes. */
async function packed(text: string): Promise<{ body: BodyInit; headers: Record<string, string> }> {
  if (text.length < PACKED_FROM || typeof CompressionStream === "undefined") return { body: text, headers: {} };
  const stream = new Blob([text]).stream().pipeThrough(new CompressionStream("gzip"));
  return { body: await new Response(stream).arrayBuffer(), headers: { "Content-Encoding": "gzip" } };
}

async function post(request: ExchangeRequest, token = session.value?.token ?? ""): Promise<ExchangeReply> {
  const { body, headers } = await packed(JSON.stringify(request));
  const reply = await fetch("/api/exchange", {
    method: "POST", body, cache: "no-store", credentials: "omit",
    // A request that a sleeping phone leaves hanging would hold all later ones up.
    signal: AbortSignal.timeout(ANSWER_WITHIN_MS),
    headers: { ...headers, "Content-Type": "application/json", Authorization: `Bearer ${token}` },
  });
  if (!reply.ok) throw await refusalOf(reply);
  return decodeReply(await reply.json());
}

async function hash(id: string): Promise<string> {
  const bytes = new Uint8Array(await crypto.subtle.digest("SHA-256", new TextEncoder().encode(id)));
  return [...bytes.subarray(0, 8)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

const clock: Clock = { nowMs: () => Date.now() };
const random: Randomness = { bytes: (n) => crypto.getRandomValues(new Uint8Array(n)), fraction: () => Math.random() };
const platform: Ports = { store: onDisk, copies: journal, clock, random, net: { exchange: (request) => post(request) }, hash };

/** The platform's ports for the book of somebody who does not hold this phone now. */
export const portsFor = (store: Store, copies: Copies, token: string): Ports =>
  ({ ...platform, store, copies, net: { exchange: (request) => post(request, token) } });

const isSilence = (problem: unknown): boolean =>
  problem instanceof TypeError || problem instanceof UnreadableReply || problem instanceof SyntaxError ||
  (problem instanceof DOMException && ["TimeoutError", "AbortError"].includes(problem.name));

export const isUnknown = (problem: unknown): boolean => problem instanceof Refused && problem.status === 401;

function noteFailure(problem: unknown): void {
  link.value = "held";
  if (isRevoked(problem) || isUnknown(problem)) isKeyRefused.value = true;
  failed(problem instanceof Refused ? problem.retryAfterS : null);
  if (!(problem instanceof Refused) && !isSilence(problem) && !isStorageFull(problem)) throw problem;
}

function noteSuccess(): void {
  isKeyRefused.value = false;
  lastPassedAtMs.value = Date.now();
  link.value = "linked";
  succeeded();
}

async function passOnce(): Promise<void> {
  const who = session.value;
  if (who === null) return;
  if (unsent.value !== null) link.value = "passing";
  let report = await pass(platform, pace, who.deviceId);
  // Another tab may have changed the token while this request was on its way: then the present one is tried, not the one before.
  const isChangedMeanwhile = session.value !== null && session.value.token !== who.token;
  if (isUnknown(report.problem) && (isChangedMeanwhile || (await takeTokenBefore()))) report = await pass(platform, pace, who.deviceId);
  unsent.value = await unsentSummary();
  await readOffset();
  if (report.isChanged) {
    if (report.news === null || tray.value.length > 0) await refresh();
    else addNews(report.news);
    tellTabs();
  }
  if (report.problem !== null) return noteFailure(report.problem);
  noteSuccess();
  isHeldBack.value = report.isHeldBack === true;
  await renewToken();
}

/** One pass over all tabs at a time. A frozen tab may hold the lock for ever; two passes at once are wasteful, not wrong. */
async function passAlone(): Promise<void> {
  const locks = globalThis.navigator?.locks;
  if (locks === undefined) return passOnce();
  let hasBegun = false;
  try {
    await locks.request(LOCK, { signal: AbortSignal.timeout(LOCK_WITHIN_MS) }, () => {
      hasBegun = true;
      return passOnce();
    });
  } catch (problem) {
    if (hasBegun) throw problem;
    await passOnce();
  }
}

/** Exchange with the server. Calls during a pass lead to one more pass, never to two at once. */
export function exchange(): Promise<void> {
  if (running !== null) {
    isAskedAgain = true;
    return running;
  }
  running = passAlone().finally(() => {
    running = null;
    if (isAskedAgain) {
      isAskedAgain = false;
      if (link.value === "linked") void exchange();
    }
  });
  return running;
}
