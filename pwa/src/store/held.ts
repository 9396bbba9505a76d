/** Which holder's book this page has open. Read once, without waiting, before anything else: a page never changes hands. */

import { signal } from "@preact/signals";

import { bookName, dayOf, mustAsk, type Held, type Holder } from "@/core/held.ts";

export const HOLDERS = "brinebook.holders";
export const HELD = "brinebook.holder";
export const ASK = "brinebook.ask";

export function read<T>(shelf: string): T | null {
  try {
    return JSON.parse(globalThis.localStorage?.getItem(shelf) ?? "null") as T | null;
  } catch {
    return null;
  }
}

export const holders = (): Holder[] => read<Holder[]>(HOLDERS) ?? [];
export const held = (): Held | null => read<Held>(HELD);
export const isShared = (): boolean => holders().length > 0;

/** The book this page has open for as long as it lives. */
const heldAtStart = held()?.id;
export const presentId = heldAtStart ?? "";
export const presentBook = bookName(presentId);

/** This page was told that somebody else took the phone elsewhere; it outlives the reload that empties the page. */
const isTold = (): boolean => globalThis.sessionStorage?.getItem(ASK) === "1";

/** Nobody is known to hold this phone: the chooser stands before everything else. */
export const isAsked = signal(isShared() && (isTold() || mustAsk(holders(), held(), dayOf(Date.now()))));

/** The page began by asking, and has no book open. */
export const isEmpty = isAsked.value;

/** Whether the day went by, or somebody took the phone in another window. */
export const askedBy = (nowMs: number): boolean => isTold() || mustAsk(holders(), held(), dayOf(nowMs));

/** Empty the page by loading it anew: the one way to be sure that nothing of a book stays in memory. */
export function startAnew(isAsking = false): void {
  if (isAsking) sessionStorage.setItem(ASK, "1");
  history.replaceState(null, "", "/");
  location.reload();
}

/** Tell of hands changing in another window; a frozen page hears of it when it is seen again. */
export function onElsewhere(leave: () => void): void {
  const look = (): void => {
    if (held()?.id !== heldAtStart) leave();
    else if (isAsked.value && !askedBy(Date.now())) {
      if (isEmpty) location.reload();
      else isAsked.value = false;
    }
  };
  addEventListener("storage", ({ key }) => { if (key === HELD || key === null) look(); });
  addEventListener("pageshow", look);
  document.addEventListener("visibilitychange", look);
}
