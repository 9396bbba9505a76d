/** Typed access to the catalogue: an unknown key, or a missing value, does not compile. */

import { signal } from "@preact/signals";

import { words as english } from "@/ui/words/generated/en.ts";
import type { words as englishCrew } from "@/ui/words/generated/en.crew.ts";
import type { words as englishStaff } from "@/ui/words/generated/en.staff.ts";

type Catalogue = typeof english & typeof englishCrew & typeof englishStaff;
export type Key = keyof Catalogue;
type Values<K extends Key> = Catalogue[K] extends (p: infer P) => string ? [P] : [];
type Sentence = string | ((p: never) => string);

const table = signal<Readonly<Record<string, Sentence>>>(english);

/** Add sentences: the staff's when a staff screen loads, another language's when a person chooses it. */
export function addWords(more: Readonly<Record<string, Sentence>>): void {
  table.value = { ...table.value, ...more };
}

/** Say one sentence of the catalogue. */
export function t<K extends Key>(key: K, ...values: Values<K>): string {
  return spoken(key, values[0]) ?? key;
}

/** Say a sentence whose key comes from the server (a flag, a reason, a problem), or null when this app has none. */
export function spoken(key: string, values?: unknown): string | null {
  const sentence = table.value[key];
  if (sentence === undefined) return null;
  return typeof sentence === "string" ? sentence : sentence(values as never);
}
