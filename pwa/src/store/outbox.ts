/** Facts made here: written once, together with their place in the outbox, and given up only on a verdict. */

import type { FactEvent } from "@/protocol/records.ts";
import { copies, copyDown, crossOut } from "@/store/journal.ts";
import { withDb } from "@/store/schema.ts";

export type Unnumbered = Omit<FactEvent, "n" | "lamport">;

/** Write a fact and its outbox entry in one strict transaction; resolves when both are on the disk. */
export async function keep(made: Unnumbered): Promise<FactEvent> {
  let event: FactEvent | null = null;
  try {
    event = await withDb(async (db) => {
      const tx = db.transaction(["ev", "outbox", "meta"], "readwrite", { durability: "strict" });
      const meta = tx.objectStore("meta");
      const n = Number((await meta.get("counter")) ?? 0) + 1;
      const lamport = Number((await meta.get("lamport")) ?? 0) + 1;
      const numbered: FactEvent = { ...made, n, lamport };
      copyDown(numbered);
      await Promise.all([
        meta.put(n, "counter"),
        meta.put(lamport, "lamport"),
        tx.objectStore("ev").put({ id: numbered.id, event: numbered }),
        tx.objectStore("outbox").put(numbered),
        tx.done,
      ]);
      return numbered;
    });
    return event;
  } catch (problem) {
    // Told as not noted, so the copy must not bring it back.
    crossOut([made.id]);
    throw problem;
  }
}

/** Up to so many unsent facts, oldest first. */
export async function waiting(atMost: number): Promise<FactEvent[]> {
  const all = await withDb((db) => db.getAll("outbox"));
  return all.sort((a, b) => a.n - b.n).slice(0, atMost);
}

export async function unsentSummary(): Promise<{ count: number; oldestAtMs: number } | null> {
  const all = await withDb((db) => db.getAll("outbox"));
  return all.length === 0 ? null : { count: all.length, oldestAtMs: Math.min(...all.map((event) => event.at_ms)) };
}

/** Bring back facts that the journal has and the database lost. */
export async function reconcile(): Promise<number> {
  const found = copies();
  if (found.length === 0) return 0;
  return withDb(async (db) => {
    const tx = db.transaction(["ev", "outbox", "authored", "tray"], "readwrite", { durability: "strict" });
    let n = 0;
    for (const event of found) {
      const places = (["outbox", "authored", "tray"] as const).map((name) => tx.objectStore(name).getKey(event.id));
      if ((await Promise.all(places)).some((key) => key !== undefined)) continue;
      await tx.objectStore("ev").put({ id: event.id, event });
      await tx.objectStore("outbox").put(event);
      n += 1;
    }
    await tx.done;
    return n;
  });
}
