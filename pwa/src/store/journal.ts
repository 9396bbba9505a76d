/** A cheap second copy of unsent facts, for the phone that loses its database in the background. */

import { decodeEvent } from "@/protocol/decode.ts";
import type { FactEvent } from "@/protocol/records.ts";
import { presentId } from "@/store/held.ts";
import type { Copies } from "@/store/ports.ts";

const AT_MOST = 200;

const shelf = (): Storage | null => {
  try {
    return globalThis.localStorage ?? null;
  } catch {
    return null;
  }
};

/** Oldest first: an id begins with the instant of the tap. */
function keys(storage: Storage, prefix: string): string[] {
  const all = Array.from({ length: storage.length }, (_, i) => storage.key(i) ?? "");
  return all.filter((key) => key.startsWith(prefix)).sort();
}

/** The copies of one holder; nobody else's book ever takes them in. */
export function journalOf(holderId: string): Copies {
  const prefix = holderId === "" ? "brinebook.unsent." : `brinebook.unsent@${holderId}.`;
  return {
    /** Copy a fact, the oldest copy making room; a full or missing shelf is no fault, since the database holds the original. */
    add(event) {
      const storage = shelf();
      if (storage === null) return;
      try {
        for (const key of keys(storage, prefix).slice(0, -(AT_MOST - 1))) storage.removeItem(key);
        storage.setItem(prefix + event.id, JSON.stringify(event));
      } catch {
        // The shelf is full: the outbox is the original.
      }
    },
    remove(ids) {
      const storage = shelf();
      for (const id of ids) storage?.removeItem(prefix + id);
    },
    all() {
      const storage = shelf();
      if (storage === null) return [];
      const found: FactEvent[] = [];
      for (const key of keys(storage, prefix)) {
        try {
          found.push(decodeEvent(JSON.parse(storage.getItem(key) ?? "")));
        } catch {
          storage.removeItem(key);
        }
      }
      return found;
    },
  };
}

export const journal = journalOf(presentId);
