/** Typed access to the catalogue: an unknown key, or a missing value, does not compile. */

import { signal } from "@preact/signals";

import { speakNumbersIn } from "@/core/display.ts";
import { words as english } from "@/ui/words/generated/en.ts";
import type { words as englishCrew } from "@/ui/words/generated/en.crew.ts";
import type { words as englishMine } from "@/ui/words/generated/en.mine.ts";
import type { words as englishOwn } from "@/ui/words/generated/en.own.ts";
import type { words as englishPages } from "@/ui/words/generated/en.pages.ts";
import type { words as englishStaff } from "@/ui/words/generated/en.staff.ts";
import type { words as englishStory } from "@/ui/words/generated/en.story.ts";
import { LOADERS } from "@/ui/words/generated/loaders.ts";

type Catalogue = typeof english & typeof englishOwn & typeof englishPages & typeof englishStory & typeof englishCrew & typeof englishStaff & typeof englishMine;
export type Key = keyof Catalogue;
type Values<K extends Key> = Catalogue[K] extends (p: infer P) => string ? [P] : [];
type Sentence = string | ((p: never) => string);
type Sentences = Readonly<Record<string, Sentence>>;

/** In the order a person chooses from, each in its own words. */
export const LANGUAGES = { en: "English", fr: "Français", it: "Italiano", es: "Español", nl: "Nederlands" } as const;
export type Language = keyof typeof LANGUAGES;
export type Part = "main" | "pages" | "own" | "story" | "crew" | "staff" | "mine";

const table = signal<Sentences>(english);
const parts = new Set<Part>(["main"]);
export const language = signal<Language>("en");

async function load(tongue: Language, part: Part): Promise<Sentences> {
  const loader = (LOADERS as Readonly<Record<string, (() => Promise<{ words: Sentences }>) | undefined>>)[`${tongue} ${part}`];
  return loader === undefined ? {} : (await loader()).words;
}

/** Have the sentences of some parts in the language spoken now; rejects when a chunk cannot be had. */
export async function wantWords(...more: readonly Part[]): Promise<void> {
  const tongue = language.value;
  const all = await Promise.all(more.map((part) => load(tongue, part)));
  for (const part of more) parts.add(part);
  if (tongue === language.value) table.value = Object.assign({ ...table.value }, ...all) as Sentences;
  else await wantWords(...more);
}

/** Speak another language from here on; when its chunk cannot be had the old one stays. */
export async function speak(tongue: Language): Promise<void> {
  const all = await Promise.all([...parts].map((part) => (tongue === "en" && part === "main" ? english : load(tongue, part))));
  language.value = tongue;
  speakNumbersIn(tongue);
  table.value = Object.assign({}, ...all) as Sentences;
  if (globalThis.document !== undefined) document.documentElement.lang = tongue;
}

/** Have every sentence said anew: what a figure looks like has changed. */
export function sayAgain(): void {
  table.value = { ...table.value };
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
