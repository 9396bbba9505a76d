/** The phone's database. Upgrades only add; the outbox is never rewritten. */

import { openDB, type DBSchema, type IDBPDatabase, type IDBPTransaction, type StoreNames } from "idb";

import { SHELVES, type Remembered, type ShelfName, type Shelves, type Store, type Tx } from "@/store/ports.ts";
import { presentBook } from "@/store/held.ts";
import type { Session } from "@/store/state.ts";

/** Everything kept under a name of its own. */
export interface Meta extends Remembered {
  session: Session | null;
  device_key: string;
  /** What its holder had typed and not kept when the phone changed hands. */
  half_typed: HalfTyped | undefined;
}

export interface HalfTyped {
  readonly page: string;
  readonly atMs: number;
  readonly lines: readonly { readonly label: string; readonly text: string }[];
}

type Tables = { [N in ShelfName]: { key: string; value: Shelves[N] } };
interface Schema extends DBSchema, Tables {
  meta: { key: string; value: unknown };
}
export type Database = IDBPDatabase<Schema>;

/** 1: the first release. 2: two shelves for a refetch. */
const VERSION = 2;
const ATTEMPTS = 3;
const FIRST: readonly ShelfName[] = ["ev", "outbox", "authored", "docs", "tray"];
const SECOND: readonly ShelfName[] = ["ev_next", "docs_next"];
export const EVERYTHING: readonly ShelfName[] = SHELVES;

/** One holder's database. */
export interface Book {
  readonly store: Store;
  /** Run work on the database, opening it again when the platform lost it in the background. */
  withDb<T>(work: (db: Database) => Promise<T>): Promise<T>;
  /** Let go of the database, so that a newer page may upgrade it. */
  close(): Promise<void>;
  readMeta<K extends keyof Meta>(name: K): Promise<Meta[K] | undefined>;
  writeMeta<K extends keyof Meta>(name: K, value: Meta[K]): Promise<void>;
}

function open(name: string, onEnd: () => void, onBlocking: () => void): Promise<Database> {
  return openDB<Schema>(name, VERSION, {
    upgrade(db, from) {
      const add = (names: readonly ShelfName[]): void => {
        for (const shelf of names) db.createObjectStore(shelf as StoreNames<Schema>, { keyPath: "id" });
      };
      if (from < 1) {
        add(FIRST);
        db.createObjectStore("meta");
      }
      if (from < 2) add(SECOND);
    },
    blocking: onBlocking,
    terminated: onEnd,
  });
}

function isLost(problem: unknown): boolean {
  return problem instanceof DOMException && ["InvalidStateError", "UnknownError", "AbortError"].includes(problem.name);
}

type IdbTx = IDBPTransaction<Schema, StoreNames<Schema>[], "readwrite">;

function txOver(tx: IdbTx): Tx {
  const shelf = (name: ShelfName) => tx.objectStore(name as StoreNames<Schema>);
  return {
    get: async <N extends ShelfName>(name: N, id: string) => (await shelf(name).get(id)) as Shelves[N] | undefined,
    all: async <N extends ShelfName>(name: N) => (await shelf(name).getAll()) as Shelves[N][],
    put: (name, value) => shelf(name).put(value),
    delete: (name, id) => shelf(name).delete(id),
    clear: (name) => shelf(name).clear(),
    recall: async <K extends keyof Remembered>(name: K) => (await tx.objectStore("meta").get(name)) as Remembered[K] | undefined,
    remember: (name, value) => tx.objectStore("meta").put(value, name),
  };
}

function abort(tx: IdbTx): void {
  try {
    tx.abort();
  } catch {
    // It is over already.
  }
}

function inTxOf(withDb: Book["withDb"]) {
  return async <T>(mode: IDBTransactionMode, names: readonly ShelfName[], work: (tx: Tx) => Promise<T>): Promise<T> => withDb(async (db) => {
    const stores = [...names, "meta"] as StoreNames<Schema>[];
    const tx = db.transaction(stores, mode, { durability: mode === "readwrite" ? "strict" : "default" }) as unknown as IdbTx;
    try {
      const answer = await work(txOver(tx));
      await tx.done;
      return answer;
    } catch (problem) {
      tx.done.catch(() => undefined);
      abort(tx);
      throw tx.error ?? problem;
    }
  });
}

/** A book by the name of its database; it is opened, or made, by the first work on it. */
export function bookNamed(name: string): Book {
  let opened: Promise<Database> | null = null;
  /** The same once it is open: a tap's transaction then begins in the tap itself. */
  let ready: Database | null = null;
  const forget = (): void => {
    opened = null;
    ready = null;
  };
  const close = async (): Promise<void> => {
    const mine = opened;
    forget();
    (await mine)?.close();
  };
  const connect = async (): Promise<Database> => {
    opened ??= open(name, forget, () => void close());
    ready = await opened;
    return ready;
  };
  const withDb: Book["withDb"] = async (work) => {
    for (let attempt = 1; ; attempt += 1) {
      try {
        return await work(ready ?? (await connect()));
      } catch (problem) {
        if (attempt >= ATTEMPTS || !isLost(problem)) throw problem;
        const lost = opened;
        forget();
        // A connection left open would block the next upgrade.
        lost?.then((db) => db.close(), () => undefined);
      }
    }
  };
  const inTx = inTxOf(withDb);
  return {
    withDb,
    close,
    store: {
      write: (names, work) => inTx("readwrite", names, work),
      read: (names, work) => inTx("readonly", names, work),
    },
    readMeta: async <K extends keyof Meta>(key: K) => withDb(async (db) => (await db.get("meta", key)) as Meta[K] | undefined),
    writeMeta: async (key, value) => withDb(async (db) => {
      const tx = db.transaction("meta", "readwrite", { durability: "strict" });
      await Promise.all([tx.store.put(value, key), tx.done]);
    }),
  };
}

/** The book of whoever holds this phone now. */
export const present = bookNamed(presentBook);
/** The database behind the one port the exchange knows. */
export const onDisk = present.store;
export const { withDb, close, readMeta, writeMeta } = present;
