/** A cheap second copy of unsent facts, for the phone that loses its database in the background. */

import type { FactEvent } from "@/protocol/records.ts";

const PREFIX = "brinebook.unsent.";
const AT_MOST = 200;

const shelf = (): Storage | null => {
  try {
    return globalThis.localStorage ?? null;
  } catch {
    return null;
  }
};

function keys(storage: Storage): string[] {
  return Array.from({ length: storage.length }, (_, i) => storage.key(i) ?? "").filter((key) => key.startsWith(PREFIX));
}

/** Copy a fact; a full or missing shelf is no fault, since the database holds the original. */
export function copyDown(event: FactEvent): void {
  const storage = shelf();
  if (storage === null || keys(storage).length >= AT_MOST) return;
  try {
    storage.setItem(PREFIX + event.id, JSON.stringify(event));
  } catch {
    // The shelf is full: the outbox is the original.
  }
}

export function crossOut(ids: Iterable<string>): void {
  const storage = shelf();
  for (const id of ids) storage?.removeItem(PREFIX + id);
}

export function copies(): FactEvent[] {
  const storage = shelf();
  if (storage === null) return [];
  const found: FactEvent[] = [];
  for (const key of keys(storage)) {
    try {
      found.push(JSON.parse(storage.getItem(key) ?? "") as FactEvent);
    } catch {
      storage.removeItem(key);
    }
  }
  return found;
}
