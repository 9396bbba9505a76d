/** When the phone is full: what was pulled can be pulled again, so it goes first. The outbox never goes. */

import type { Store } from "@/store/ports.ts";

const KEEP_NEWEST = 200;

export function isStorageFull(problem: unknown): boolean {
  return problem instanceof Error && problem.name === "QuotaExceededError";
}

/** Give up an unfinished refetch and all but the newest pulled events. Returns how many events went. */
export async function makeRoom(store: Store): Promise<number> {
  return store.write(["ev", "outbox", "ev_next", "docs_next"], async (tx) => {
    await Promise.all([tx.clear("ev_next"), tx.clear("docs_next"), tx.remember("next_cursor", undefined)]);
    const unsent = new Set((await tx.all("outbox")).map(({ id }) => id));
    const pulled = (await tx.all("ev")).filter(({ id, hash }) => hash !== undefined && !unsent.has(id));
    const going = pulled.sort((a, b) => b.event.at_ms - a.event.at_ms).slice(KEEP_NEWEST);
    for (const { id } of going) await tx.delete("ev", id);
    if (going.length > 0) await tx.remember("is_pruned", true);
    return going.length;
  });
}
