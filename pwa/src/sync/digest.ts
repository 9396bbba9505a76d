/** Whether this phone holds what the server says is in its scope; when not, it is fetched again beside the old and swapped. */

import type { ExchangeReply } from "@/protocol/records.ts";
import { SHELVES, type Copies, type Ports, type StoredEvent, type Tx } from "@/store/ports.ts";
import { holdOthers, pushAgain } from "@/sync/apply.ts";

/** "matches": nothing to do. "again": something must be asked again. "refetch": begin again from nothing. */
export type Checked = "matches" | "again" | "refetch";

function xorHex(one: string, other: string): string {
  return (BigInt(`0x${one}`) ^ BigInt(`0x${other}`)).toString(16).padStart(16, "0");
}

function isSame(stored: readonly StoredEvent[], [count, wanted]: readonly [number, string]): boolean {
  const hashes = stored.flatMap(({ hash }) => (hash === undefined ? [] : [hash]));
  return hashes.length === count && hashes.reduce(xorHex, "0".repeat(16)) === wanted.padStart(16, "0").toLowerCase();
}

/** Put the refetched book in place of the old one; what was made here stays in sight. */
async function swap(tx: Tx, atMs: number): Promise<void> {
  const [next, nextDocs, cursor] = await Promise.all([tx.all("ev_next"), tx.all("docs_next"), tx.recall("next_cursor")]);
  await holdOthers(tx, atMs);
  await Promise.all([tx.clear("ev"), tx.clear("docs")]);
  for (const { id, event, isHeld } of await tx.all("authored")) if (isHeld !== true) await tx.put("ev", { id, event });
  for (const event of await tx.all("outbox")) await tx.put("ev", { id: event.id, event });
  for (const stored of next) await tx.put("ev", stored);
  for (const document of nextDocs) await tx.put("docs", document);
  await Promise.all([
    tx.clear("ev_next"), tx.clear("docs_next"), tx.remember("next_cursor", undefined), tx.remember("cursor", cursor ?? null),
    tx.remember("n_refetches", Number((await tx.recall("n_refetches")) ?? 0) + 1), tx.remember("is_pruned", false),
  ]);
}

/** An unannounced restore may show only here, so what was authored is pushed again too. */
async function begin(tx: Tx, copies: Copies): Promise<void> {
  await Promise.all([tx.clear("ev_next"), tx.clear("docs_next"), tx.remember("next_cursor", null)]);
  await pushAgain(tx, copies);
}

/** What was passed on but never came down may be gone with a server's history; asked once more, it is found or kept anew. */
async function askAfterUnseen(tx: Tx, stored: readonly StoredEvent[], copies: Copies): Promise<boolean> {
  const seen = new Set(stored.flatMap(({ id, hash }) => (hash === undefined ? [] : [id])));
  const authored = await tx.all("authored");
  for (const { id, isHeld } of authored) if (isHeld === true && seen.has(id)) await tx.delete("authored", id);
  const unseen = authored.filter(({ id, isConfirmed }) => isConfirmed !== true && !seen.has(id));
  for (const { event, isHeld } of unseen) {
    if (isHeld !== true) copies.add(event);
    await tx.put("outbox", event);
  }
  return unseen.length > 0;
}

/** Check the last page of a pull. A digest that still differs after a whole refetch is the server's fault: no third try. */
export async function checkDigest({ store, copies }: Ports, reply: ExchangeReply): Promise<Checked> {
  const { digest } = reply;
  return store.write(SHELVES, async (tx) => {
    const isRefetch = (await tx.recall("next_cursor")) !== undefined;
    const name = JSON.stringify(digest ?? null);
    if (isRefetch) {
      const isWhole = !digest || isSame(await tx.all("ev_next"), digest);
      await tx.remember("failed_digest", isWhole ? null : name);
      await swap(tx, reply.now_ms);
      return (await askAfterUnseen(tx, await tx.all("ev"), copies)) ? "again" : "matches";
    }
    if (!digest || (await tx.recall("is_pruned")) === true || (await tx.recall("failed_digest")) === name) return "matches";
    const stored = await tx.all("ev");
    if (isSame(stored, digest)) return (await askAfterUnseen(tx, stored, copies)) ? "again" : "matches";
    await begin(tx, copies);
    return "refetch";
  });
}
