/**
 * What the worker does when the network is back and no page is seen: it hands the outbox in, and reads nothing of the answer.
 *
 * The verdicts are the page's: it sends the same facts again, the server knows them by their ids, and only then do they
 * leave the outbox. So two rules written twice cannot disagree, and the worker stays small enough to be read.
 */

import { PROTOCOL } from "@/protocol/decode.ts";
import type { FactEvent } from "@/protocol/records.ts";

const AT_ONCE = 100;

interface Held {
  readonly events: readonly FactEvent[];
  readonly token: string;
  readonly deviceId: string;
  readonly cursor: string | null;
}

/** Open a book as the page left it; null where there is none, which must not be made here. */
function opened(name: string): Promise<IDBDatabase | null> {
  return new Promise((resolve) => {
    const request = indexedDB.open(name);
    request.onupgradeneeded = () => request.transaction?.abort();
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => resolve(null);
  });
}

const answerOf = <T>(request: IDBRequest<T>): Promise<T> => new Promise((resolve, reject) => {
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => reject(request.error);
});

async function held(name: string): Promise<Held | null> {
  const db = await opened(name);
  if (db === null) return null;
  try {
    const tx = db.transaction(["outbox", "authored", "meta"]);
    const meta = tx.objectStore("meta");
    const [waiting, passed, who, cursor] = await Promise.all([
      answerOf(tx.objectStore("outbox").getAll() as IDBRequest<FactEvent[]>),
      answerOf(tx.objectStore("authored").getAllKeys()),
      answerOf(meta.get("session") as IDBRequest<{ token: string; deviceId: string } | null | undefined>),
      answerOf(meta.get("cursor") as IDBRequest<string | null | undefined>),
    ]);
    if (!who) return null;
    // What goes a second time, after a restore, goes with its seal: that is the page's.
    const events = waiting.filter(({ id }) => !passed.includes(id)).sort((a, b) => a.n - b.n);
    return { events, token: who.token, deviceId: who.deviceId, cursor: cursor ?? null };
  } finally {
    db.close();
  }
}

async function handInOf(name: string): Promise<number> {
  const found = await held(name);
  if (found === null) return 0;
  const { events, token, deviceId, cursor } = found;
  for (let i = 0; i < events.length; i += AT_ONCE) {
    const reply = await fetch("/api/exchange", {
      method: "POST", cache: "no-store", credentials: "omit",
      headers: { "Content-Type": "application/json", Authorization: `Bearer ${token}` },
      body: JSON.stringify({ protocol: PROTOCOL, device_id: deviceId, cursor, events: events.slice(i, i + AT_ONCE), limit: 0 }),
    });
    if (reply.status >= 500) throw new TypeError(String(reply.status));
    // Refused as a whole (a key, a length): that is for the page, which can say so.
    if (!reply.ok) return i;
  }
  return events.length;
}

/** Hand in what waits, of everybody who shares this phone. Rejects when the server was not reached, so that the platform tries again. */
export async function handIn(): Promise<number> {
  // A browser that cannot list its databases knows the first.
  const books = (await indexedDB.databases?.()) ?? [{ name: "brinebook" }];
  let n = 0;
  for (const { name } of books) if (name?.startsWith("brinebook")) n += await handInOf(name);
  return n;
}
