/** One reply into the store: verdicts, facts, documents and the cursor in one transaction. */

import type { ExchangeReply, FactEvent, Verdict } from "@/protocol/records.ts";
import { crossOut } from "@/store/journal.ts";
import { type Database, type StoredEvent, withDb } from "@/store/schema.ts";

const KEEP_AUTHORED_MS = 30 * 24 * 3_600_000;

async function hashOf(id: string): Promise<string> {
  const bytes = new Uint8Array(await crypto.subtle.digest("SHA-256", new TextEncoder().encode(id)));
  return [...bytes.subarray(0, 8)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

function openTx(db: Database) {
  return db.transaction(["ev", "outbox", "authored", "docs", "tray", "meta"], "readwrite", { durability: "strict" });
}
type Tx = ReturnType<typeof openTx>;

/** What a verdict does to the outbox; an unmentioned or "retry" event stays where it is. */
async function settleVerdict(tx: Tx, verdict: Verdict, event: FactEvent, atMs: number): Promise<boolean> {
  const { id } = event;
  switch (verdict.status) {
    case "ok":
    case "dup":
      await tx.objectStore("authored").put({ id, event, passedAtMs: atMs });
      break;
    case "rejected":
    case "conflict":
      await tx.objectStore("tray").put({ id, item: { event, verdict, atMs } });
      await tx.objectStore("ev").delete(id);
      break;
    case "erased":
      await Promise.all([tx.objectStore("ev").delete(id), tx.objectStore("authored").delete(id)]);
      break;
    default:
      return false;
  }
  await tx.objectStore("outbox").delete(id);
  return true;
}

/** Throw away what was pulled; what was made here stays, and is sent again when the server is another one. */
async function startOver(tx: Tx, isNewEpoch: boolean): Promise<void> {
  await Promise.all([tx.objectStore("ev").clear(), tx.objectStore("docs").clear()]);
  for (const { id, event } of await tx.objectStore("authored").getAll()) {
    await tx.objectStore("ev").put({ id, event });
    if (isNewEpoch) await tx.objectStore("outbox").put(event);
  }
  for (const event of await tx.objectStore("outbox").getAll()) await tx.objectStore("ev").put({ id: event.id, event });
}

async function forgetOld(tx: Tx, atMs: number): Promise<void> {
  for (const { id, passedAtMs } of await tx.objectStore("authored").getAll()) {
    if (atMs - passedAtMs > KEEP_AUTHORED_MS) await tx.objectStore("authored").delete(id);
  }
}

/** Apply one page. Either all of it is on the disk, cursor included, or none of it. True when authored facts wait again. */
export async function applyReply(reply: ExchangeReply, sent: readonly FactEvent[], atMs: number): Promise<boolean> {
  const pulled: StoredEvent[] = await Promise.all(
    reply.events.map(async ([, event]) => ({ id: event.id, event, hash: await hashOf(event.id) })),
  );
  const verdicts = new Map(reply.verdicts.map((verdict) => [verdict.id, verdict]));
  const settled: string[] = [];
  const isNewEpoch = await withDb(async (db) => {
    const tx = openTx(db);
    const meta = tx.objectStore("meta");
    const epoch = await meta.get("epoch");
    for (const event of sent) {
      const verdict = verdicts.get(event.id);
      if (verdict !== undefined && (await settleVerdict(tx, verdict, event, atMs))) settled.push(event.id);
    }
    const isOther = typeof epoch === "string" && epoch !== reply.epoch;
    if (reply.reset || isOther) await startOver(tx, isOther);
    let lamport = Number((await meta.get("lamport")) ?? 0);
    for (const stored of pulled) {
      await tx.objectStore("ev").put(stored);
      lamport = Math.max(lamport, stored.event.lamport);
    }
    for (const document of reply.documents) {
      if (document.body === null || document.body === undefined) await tx.objectStore("docs").delete(document.id);
      else await tx.objectStore("docs").put(document);
    }
    await forgetOld(tx, atMs);
    await Promise.all([
      meta.put(lamport, "lamport"), meta.put(reply.epoch, "epoch"), meta.put(reply.cursor, "cursor"), tx.done,
    ]);
    return isOther;
  });
  crossOut(settled);
  return isNewEpoch;
}

/** A revoked phone keeps only what was made on it and has not been taken by the server. */
export async function forgetPulled(): Promise<void> {
  await withDb(async (db) => {
    const tx = openTx(db);
    await Promise.all([tx.objectStore("ev").clear(), tx.objectStore("docs").clear(), tx.objectStore("authored").clear()]);
    for (const event of await tx.objectStore("outbox").getAll()) await tx.objectStore("ev").put({ id: event.id, event });
    await Promise.all([tx.objectStore("meta").put(null, "cursor"), tx.done]);
  });
}

function xorHex(one: string, other: string): string {
  return (BigInt(`0x${one}`) ^ BigInt(`0x${other}`)).toString(16).padStart(16, "0");
}

/** Whether what was pulled is what the server says is in scope. */
export async function matchesDigest(reply: ExchangeReply): Promise<boolean> {
  if (!reply.digest) return true;
  const [count, wanted] = reply.digest;
  const stored = (await withDb((db) => db.getAll("ev"))).flatMap(({ hash }) => (hash === undefined ? [] : [hash]));
  if (stored.length !== count) return false;
  return stored.reduce(xorHex, "0".repeat(16)) === wanted.padStart(16, "0").toLowerCase();
}
