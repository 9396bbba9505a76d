/** A cheap second copy of unsent facts, for the phone that loses its database in the background. */

import { decodeEvent } from "@/protocol/decode.ts";
import type { FactEvent } from "@/protocol/records.ts";
import type { Copies } from "@/store/ports.ts";

const PREFIX = "brinebook.unsent.";
const AT_MOST = 200;

const shelf = (): Storage | null => {
  try {
    return globalThis.localStorage ?? null;
  } catch {
    return null;
  }
};

/** Oldest first: an id begins with the instant of the tap. */
function keys(storage: Storage): string[] {
  const all = Array.from({ length: storage.length }, (_, i) => storage.key(i) ?? "");
  return all.filter((key) => key.startsWith(PREFIX)).sort();
}

/** Copy a fact, the oldest copy making room; a full or missing shelf is no fault, since the database holds the original. */
function add(event: FactEvent): void {
  const storage = shelf();
  if (storage === null) return;
  try {
    for (const key of keys(storage).slice(0, -(AT_MOST - 1))) storage.removeItem(key);
    storage.setItem(PREFIX + event.id, JSON.stringify(event));
  } catch {
    // The shelf is full: the outbox is the original.
  }
}

function remove(ids: Iterable<string>): void {
  const storage = shelf();
  for (const id of ids) storage?.removeItem(PREFIX + id);
}

function all(): FactEvent[] {
  const storage = shelf();
  if (storage === null) return [];
  const found: FactEvent[] = [];
  for (const key of keys(storage)) {
    try {
      found.push(decodeEvent(JSON.parse(storage.getItem(key) ?? "")));
    } catch {
      storage.removeItem(key);
    }
  }
  return found;
}

export const journal: Copies = { add, remove, all };
