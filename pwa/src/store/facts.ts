/** Facts made here: written once, together with their place in the outbox, and given up only on a verdict. */

import type { FactEvent } from "@/protocol/records.ts";
import { isStorageFull, makeRoom } from "@/store/room.ts";
import type { Copies, Store } from "@/store/ports.ts";

export type Unnumbered = Omit<FactEvent, "n" | "lamport">;
export interface Unsent {
  readonly count: number;
  readonly oldestAtMs: number;
}

async function write(store: Store, copies: Copies, made: Unnumbered): Promise<FactEvent> {
  return store.write(["ev", "outbox"], async (tx) => {
    // A try whose answer was lost may have been written: the same tap never gets two numbers.
    const [known, counter, lamport] = await Promise.all([tx.get("outbox", made.id), tx.recall("counter"), tx.recall("lamport")]);
    if (known !== undefined) return known;
    const event: FactEvent = { ...made, n: Number(counter ?? 0) + 1, lamport: Number(lamport ?? 0) + 1 };
    copies.add(event);
    await Promise.all([
      tx.remember("counter", event.n),
      tx.remember("lamport", event.lamport),
      tx.put("ev", { id: event.id, event }),
      tx.put("outbox", event),
    ]);
    return event;
  });
}

/** Write a fact and its outbox entry in one strict transaction; resolves when both are on the disk. */
export async function keepIn(store: Store, copies: Copies, made: Unnumbered): Promise<FactEvent> {
  try {
    return await write(store, copies, made).catch(async (problem: unknown) => {
      if (!isStorageFull(problem)) throw problem;
      await makeRoom(store);
      return write(store, copies, made);
    });
  } catch (problem) {
    // Told as not noted, so the copy must not bring it back.
    copies.remove([made.id]);
    throw problem;
  }
}

/** Up to so many unsent facts, oldest first. */
export async function waitingIn(store: Store, atMost: number): Promise<FactEvent[]> {
  const all = await store.read(["outbox"], (tx) => tx.all("outbox"));
  return all.sort((a, b) => a.n - b.n || (a.id < b.id ? -1 : 1)).slice(0, atMost);
}

export async function unsentIn(store: Store): Promise<Unsent | null> {
  const all = await store.read(["outbox"], (tx) => tx.all("outbox"));
  return all.length === 0 ? null : { count: all.length, oldestAtMs: Math.min(...all.map((event) => event.at_ms)) };
}

/** Bring back facts that the copies have and the store lost; copies of what was passed on are dropped. */
export async function bringBack(store: Store, copies: Copies): Promise<number> {
  const found = copies.all();
  if (found.length === 0) return 0;
  const settled: string[] = [];
  const n = await store.write(["ev", "outbox", "authored", "tray"], async (tx) => {
    let counter = Number((await tx.recall("counter")) ?? 0);
    let lamport = Number((await tx.recall("lamport")) ?? 0);
    let nBack = 0;
    for (const event of found) {
      if ((await tx.get("outbox", event.id)) !== undefined) continue;
      if ((await tx.get("authored", event.id)) !== undefined || (await tx.get("tray", event.id)) !== undefined) {
        settled.push(event.id);
      } else {
        await tx.put("ev", { id: event.id, event });
        await tx.put("outbox", event);
        counter = Math.max(counter, event.n);
        lamport = Math.max(lamport, event.lamport);
        nBack += 1;
      }
    }
    await tx.remember("counter", counter);
    await tx.remember("lamport", lamport);
    return nBack;
  });
  copies.remove(settled);
  return n;
}
