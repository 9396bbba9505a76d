/** What a person chose for himself: language and units. They follow the person, not the phone. */

import { effect, signal, untracked } from "@preact/signals";

import { type Units, METRIC, showUnitsIn } from "@/core/display.ts";
import { session } from "@/store/state.ts";
import { type Language, LANGUAGES, sayAgain, speak } from "@/ui/words.ts";

interface Choices extends Units {
  readonly language: Language;
}

const SHELF = "brinebook.choices";
const shelfOf = (memberId: string | undefined): string => (memberId === undefined ? SHELF : `${SHELF}.${memberId}`);
const isLanguage = (name: unknown): name is Language => typeof name === "string" && Object.hasOwn(LANGUAGES, name);

/** The first language of the browser that the book speaks. */
export function languageOf(wanted: readonly string[]): Language {
  return wanted.map((tag) => tag.toLowerCase().split("-")[0]).find(isLanguage) ?? "en";
}

function stored(shelf: string): Partial<Choices> | null {
  try {
    return JSON.parse(localStorage.getItem(shelf) ?? "null") as Partial<Choices> | null;
  } catch {
    return null;
  }
}

function read(memberId: string | undefined): Choices {
  const found = { ...METRIC, ...(stored(shelfOf(memberId)) ?? stored(SHELF)) };
  const spoken = "language" in found && isLanguage(found.language) ? found.language : languageOf(navigator.languages ?? []);
  return { ...found, language: spoken };
}

/** What a person on this phone speaks. */
export const languageFor = (memberId: string): Language => read(memberId).language;

export const choices = signal<Choices>({ ...METRIC, language: "en" });

async function follow(next: Choices): Promise<void> {
  choices.value = next;
  showUnitsIn(next);
  try {
    await speak(next.language);
  } catch {
    // Its chunk is not on this phone: the language spoken before stays until it can be had.
    sayAgain();
  }
}

/** Change one choice; it holds for this person on this phone, and for the next person who has chosen nothing. */
export async function choose(change: Partial<Choices>): Promise<void> {
  const next = { ...choices.value, ...change };
  for (const shelf of [SHELF, shelfOf(session.value?.member.id)]) localStorage.setItem(shelf, JSON.stringify(next));
  await follow(next);
}

/** Speak as the person on this phone chose, and as the next one did when somebody else joins. Returns when that is done. */
export function startChoices(): () => Promise<void> {
  let following: Promise<void> = Promise.resolve();
  effect(() => {
    const memberId = session.value?.member.id;
    following = untracked(() => follow(read(memberId)));
  });
  return () => following;
}
