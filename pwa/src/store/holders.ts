/** Writes down who lives on this phone and who took it; phones that nobody shares never load this. */

import { dayOf, type Held, type Holder } from "@/core/held.ts";
import { ASK, HELD, held, HOLDERS, holders, read } from "@/store/held.ts";

const KEYS = "brinebook.keys";

function write(shelf: string, value: unknown): void {
  localStorage.setItem(shelf, JSON.stringify(value));
}

export function keepHolders(all: readonly Holder[]): void {
  if (all.length === 0) localStorage.removeItem(HOLDERS);
  else write(HOLDERS, all);
}

/** Somebody takes the phone, for today. */
export function take(id: string, nowMs: number): void {
  sessionStorage.removeItem(ASK);
  write(HELD, { id, day: dayOf(nowMs) } satisfies Held);
}

/** Strike out a person. Nobody holds the phone then, until somebody says so. */
export function strikeOut(id: string): void {
  keepHolders(holders().filter((one) => one.id !== id));
  if (held()?.id === id) localStorage.removeItem(HELD);
}

type Keys = Readonly<Record<string, readonly string[]>>;

/** The passkeys that were made or used in this browser: those of elsewhere could not open anything here. */
export const keysOf = (memberId: string): readonly string[] => read<Keys>(KEYS)?.[memberId] ?? [];

export function keepKeys(memberId: string, ids: readonly string[]): void {
  const { [memberId]: _, ...others } = read<Keys>(KEYS) ?? {};
  write(KEYS, ids.length === 0 ? others : { ...others, [memberId]: [...new Set(ids)] });
}
