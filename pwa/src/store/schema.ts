/** The phone's database. Upgrades only add; the outbox is never rewritten. */

import { openDB, type DBSchema, type IDBPDatabase } from "idb";

import type { Session, TrayItem } from "@/store/state.ts";
import type { Document, FactEvent } from "@/protocol/records.ts";

export interface StoredEvent {
  id: string;
  event: FactEvent;
  /** The first 64 bits of sha256 over the id, for pulled events: part of the scope's digest. */
  hash?: string;
}

export interface Authored {
  id: string;
  event: FactEvent;
  passedAtMs: number;
}

/** Everything kept under a name of its own. */
export interface Meta {
  session: Session | null;
  device_key: string;
  cursor: string | null;
  epoch: string | null;
  counter: number;
  lamport: number;
  failed_digest: string | null;
}

interface Schema extends DBSchema {
  ev: { key: string; value: StoredEvent };
  outbox: { key: string; value: FactEvent };
  authored: { key: string; value: Authored };
  docs: { key: string; value: Document };
  tray: { key: string; value: { id: string; item: TrayItem } };
  meta: { key: string; value: unknown };
}

export type StoreName = "ev" | "outbox" | "authored" | "docs" | "tray" | "meta";
export type Database = IDBPDatabase<Schema>;
export const ALL_STORES: StoreName[] = ["ev", "outbox", "authored", "docs", "tray", "meta"];

const VERSION = 1;
const ATTEMPTS = 3;
let opened: Promise<Database> | null = null;

function open(): Promise<Database> {
  return openDB<Schema>("brinebook", VERSION, {
    upgrade(db, from) {
      if (from < 1) {
        for (const name of ["ev", "outbox", "authored", "docs", "tray"] as const) db.createObjectStore(name, { keyPath: "id" });
        db.createObjectStore("meta");
      }
    },
    blocking: () => void close(),
    terminated: () => {
      opened = null;
    },
  });
}

/** Let go of the database, so that a newer page may upgrade it. */
export async function close(): Promise<void> {
  const mine = opened;
  opened = null;
  (await mine)?.close();
}

function isLost(problem: unknown): boolean {
  return problem instanceof DOMException && ["InvalidStateError", "UnknownError", "AbortError"].includes(problem.name);
}

/** Run work on the database, opening it again when the platform lost it in the background. */
export async function withDb<T>(work: (db: Database) => Promise<T>): Promise<T> {
  for (let attempt = 1; ; attempt += 1) {
    try {
      opened ??= open();
      return await work(await opened);
    } catch (problem) {
      opened = null;
      if (attempt >= ATTEMPTS || !isLost(problem)) throw problem;
    }
  }
}

export async function readMeta<K extends keyof Meta>(name: K): Promise<Meta[K] | undefined> {
  return withDb(async (db) => (await db.get("meta", name)) as Meta[K] | undefined);
}

export async function writeMeta<K extends keyof Meta>(name: K, value: Meta[K]): Promise<void> {
  await withDb(async (db) => {
    const tx = db.transaction("meta", "readwrite", { durability: "strict" });
    await Promise.all([tx.store.put(value, name), tx.done]);
  });
}
