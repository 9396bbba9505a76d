/** One pass: outbox up, verdicts and news down, page by page, until both sides have nothing more to say. */

import { decodeReply, PROTOCOL, UnreadableReply } from "@/protocol/decode.ts";
import type { ExchangeReply, FactEvent } from "@/protocol/records.ts";
import { refresh, tellTabs } from "@/store/load.ts";
import { unsentSummary, waiting } from "@/store/outbox.ts";
import { readMeta, withDb, writeMeta } from "@/store/schema.ts";
import { isKeyRefused, lastPassedAtMs, link, offsetMs, session, unsent } from "@/store/state.ts";
import { applyReply, forgetPulled, matchesDigest } from "@/sync/apply.ts";
import { failed, succeeded } from "@/sync/backoff.ts";

const MOST_EVENTS = 200;
const MOST_BYTES = 240_000;
const MOST_PAGES = 200;

let batchSize = MOST_EVENTS;
let bestRoundTripMs = Number.POSITIVE_INFINITY;
let running: Promise<void> | null = null;
let isAskedAgain = false;

/** The server answered, but not with a reply that can be used. */
class Refused extends Error {
  constructor(readonly status: number, readonly code: string, readonly retryAfterS: number | null) {
    super(String(status));
  }
}

async function refusalOf(reply: Response): Promise<Refused> {
  const after = Number(reply.headers.get("Retry-After"));
  const told = (await reply.json().catch(() => ({}))) as { code?: unknown };
  return new Refused(reply.status, String(told.code ?? ""), Number.isFinite(after) && after > 0 ? after : null);
}

function fitting(events: readonly FactEvent[]): FactEvent[] {
  let bytes = 0;
  return events.filter((event, i) => {
    bytes += JSON.stringify(event).length + 1;
    return i === 0 || bytes <= MOST_BYTES;
  });
}

async function send(events: readonly FactEvent[], token: string, deviceId: string): Promise<ExchangeReply> {
  const body = JSON.stringify({ protocol: PROTOCOL, device_id: deviceId, cursor: (await readMeta("cursor")) ?? null, events });
  const began = Date.now();
  const reply = await fetch("/api/exchange", {
    method: "POST", body, cache: "no-store", credentials: "omit",
    headers: { "Content-Type": "application/json", Authorization: `Bearer ${token}` },
  });
  if (!reply.ok) throw await refusalOf(reply);
  const decoded = decodeReply(await reply.json());
  const ended = Date.now();
  if (ended - began <= bestRoundTripMs) {
    bestRoundTripMs = ended - began;
    offsetMs.value = Math.round(decoded.now_ms - (began + ended) / 2) + 0;
  }
  return decoded;
}

/** An event too large even alone would block all others: it goes to the tray, where a person sees it. */
async function setAside(event: FactEvent): Promise<void> {
  const item = { event, verdict: { id: event.id, status: "rejected" as const, code: "too_large" }, atMs: Date.now() };
  await withDb(async (db) => {
    const tx = db.transaction(["outbox", "tray"], "readwrite", { durability: "strict" });
    await Promise.all([tx.objectStore("tray").put({ id: event.id, item }), tx.objectStore("outbox").delete(event.id), tx.done]);
  });
}

/** Refetch from the beginning, once for each digest that does not match. */
async function checkDigest(reply: ExchangeReply): Promise<boolean> {
  if (await matchesDigest(reply)) return true;
  const failedBefore = await readMeta("failed_digest");
  const name = JSON.stringify(reply.digest);
  if (failedBefore === name) return true;
  await writeMeta("failed_digest", name);
  await writeMeta("cursor", null);
  return false;
}

async function onePage(token: string, deviceId: string): Promise<boolean> {
  const sent = fitting(await waiting(batchSize));
  let reply: ExchangeReply;
  try {
    reply = await send(sent, token, deviceId);
  } catch (problem) {
    const [only] = sent;
    if (!(problem instanceof Refused) || problem.status !== 413 || only === undefined) throw problem;
    if (sent.length === 1) await setAside(only);
    else batchSize = Math.max(1, Math.floor(sent.length / 2));
    return true;
  }
  batchSize = Math.min(MOST_EVENTS, batchSize * 2);
  const isNewServer = await applyReply(reply, sent, Date.now());
  const cleared = isNewServer || reply.verdicts.some(({ status }) => status !== "retry");
  if (reply.more || (cleared && (await waiting(1)).length > 0)) return true;
  return !(await checkDigest(reply));
}

async function noteFailure(problem: unknown): Promise<void> {
  link.value = "held";
  const isRevoked = problem instanceof Refused && problem.code === "revoked";
  if (isRevoked || (problem instanceof Refused && problem.status === 401)) isKeyRefused.value = true;
  if (isRevoked) await forgetPulled();
  failed(problem instanceof Refused ? problem.retryAfterS : null);
  const isExpected = problem instanceof Refused || problem instanceof UnreadableReply || problem instanceof TypeError;
  if (!isExpected) throw problem;
}

async function pass(): Promise<void> {
  const who = session.value;
  if (who === null) return;
  if (unsent.value !== null) link.value = "passing";
  try {
    for (let page = 0; page < MOST_PAGES; page += 1) {
      if (!(await onePage(who.token, who.deviceId))) break;
    }
    isKeyRefused.value = false;
    lastPassedAtMs.value = Date.now();
    link.value = "linked";
    succeeded();
  } catch (problem) {
    await noteFailure(problem);
  } finally {
    unsent.value = await unsentSummary();
    await refresh();
    tellTabs();
  }
}

async function passAlone(): Promise<void> {
  const locks = globalThis.navigator?.locks;
  if (locks === undefined) await pass();
  else await locks.request("brinebook-exchange", pass);
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
