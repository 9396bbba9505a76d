/** What the exchange and the outbox need from the world. The app gives them the platform, the simulation a seeded one. */

import type { Document, ExchangeReply, ExchangeRequest, FactEvent, Verdict } from "@/protocol/records.ts";

export interface StoredEvent {
  id: string;
  event: FactEvent;
  /** The first 64 bits of sha256 over the id, for pulled events: part of the scope's digest. */
  hash?: string;
  /** The server's mark that it took this event; with it any phone may hand the event back after a restore. */
  seal?: string;
}

export interface Authored {
  id: string;
  event: FactEvent;
  passedAtMs: number;
  /** Asked about a second time, the server still had it: it is out of this phone's sight, not lost. */
  isConfirmed?: boolean;
  seal?: string;
  /** Not made here: held through a change of the server's history until it is seen there again, or handed back. */
  isHeld?: boolean;
}

/** An event the server would not take, kept for the person to see. */
export interface TrayItem {
  readonly event: FactEvent;
  readonly verdict: Verdict;
  readonly atMs: number;
}

/** Server minus device, from the quickest reply, and when that was by this device's clock. */
export interface Offset {
  readonly ms: number;
  readonly roundTripMs: number;
  readonly atMs: number;
}

/** What one page of an exchange brought. */
export interface News {
  readonly events: readonly FactEvent[];
  readonly documents: readonly Document[];
}

/** The shelves of the phone's book. ``ev_next`` and ``docs_next`` hold a refetch until it is whole. */
export interface Shelves {
  ev: StoredEvent;
  outbox: FactEvent;
  authored: Authored;
  docs: Document;
  tray: { id: string; item: TrayItem };
  ev_next: StoredEvent;
  docs_next: Document;
}
export type ShelfName = keyof Shelves;
export const SHELVES: readonly ShelfName[] = ["ev", "outbox", "authored", "docs", "tray", "ev_next", "docs_next"];

/** What the exchange remembers under a name of its own. */
export interface Remembered {
  cursor: string | null;
  /** Where a refetch stands: undefined when none is on, null when it begins. */
  next_cursor: string | null | undefined;
  epoch: string | null;
  counter: number;
  lamport: number;
  failed_digest: string | null;
  n_refetches: number;
  /** Pulled events were given up for room, so the digest cannot match. */
  is_pruned: boolean;
  offset: Offset | null;
  /** The device id under which another store speaks too: a backup of this phone runs on a second one, or the other way. */
  copied_device: string;
}

/** One transaction. Nothing outside it may be awaited while it is open. */
export interface Tx {
  get<N extends ShelfName>(name: N, id: string): Promise<Shelves[N] | undefined>;
  all<N extends ShelfName>(name: N): Promise<Shelves[N][]>;
  put<N extends ShelfName>(name: N, value: Shelves[N]): Promise<unknown>;
  delete(name: ShelfName, id: string): Promise<unknown>;
  clear(name: ShelfName): Promise<unknown>;
  recall<K extends keyof Remembered>(name: K): Promise<Remembered[K] | undefined>;
  remember<K extends keyof Remembered>(name: K, value: Remembered[K]): Promise<unknown>;
}

/** All of a transaction's writes are on the disk when it resolves, or none of them ever are. */
export interface Store {
  write<T>(names: readonly ShelfName[], work: (tx: Tx) => Promise<T>): Promise<T>;
  read<T>(names: readonly ShelfName[], work: (tx: Tx) => Promise<T>): Promise<T>;
}

/** A cheap second copy of unsent facts, beside the store. */
export interface Copies {
  add(event: FactEvent): void;
  remove(ids: Iterable<string>): void;
  all(): FactEvent[];
}

export interface Clock {
  nowMs(): number;
}

export interface Randomness {
  bytes(n: number): Uint8Array;
  /** At least 0, below 1. */
  fraction(): number;
}

export interface Net {
  /** One exchange; rejects with ``Refused`` when the server answered otherwise, with anything else when it did not. */
  exchange(request: ExchangeRequest): Promise<ExchangeReply>;
}

export interface Ports {
  readonly store: Store;
  readonly copies: Copies;
  readonly clock: Clock;
  readonly random: Randomness;
  readonly net: Net;
  /** The first 64 bits of sha256, as 16 hexadecimal digits. */
  hash(id: string): Promise<string>;
}

/** The server answered, but not with a reply that can be used. */
export class Refused extends Error {
  constructor(readonly status: number, readonly code: string, readonly retryAfterS: number | null, readonly epoch = "") {
    super(String(status));
  }
}
