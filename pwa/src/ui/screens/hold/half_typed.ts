/** What somebody was typing when the phone went out of his hands: kept in his own book, shown to him when he is back. */

import { signal } from "@preact/signals";

import { readMeta, writeMeta, type HalfTyped } from "@/store/schema.ts";

export const halfTyped = signal<HalfTyped | null>(null);
let typed: WeakSet<EventTarget> | null = null;
type Entry = HTMLInputElement | HTMLTextAreaElement;

/** What an entry is called, after what its form is about: "41 Aalto, Mass". */
function nameOf(entry: Entry): string {
  const about = entry.closest("form, section, [role=group]")?.querySelector("h2, h3, legend, .wr-rider")?.textContent ?? "";
  const name = entry.labels?.[0]?.textContent ?? entry.getAttribute("aria-label") ?? entry.placeholder;
  return [about, name].map((part) => part.trim()).filter((part) => part !== "").join(", ");
}

/** Entries that hold what a person typed since the page began; where nobody watched, all that hold anything. */
function lines(): HalfTyped["lines"] {
  const entries = [...document.querySelectorAll<Entry>("#app main :is(input:not([type]), input[type=text], textarea)")];
  return entries
    .filter((entry) => entry.closest("[data-hold]") === null && entry.value.trim() !== "" && (typed?.has(entry) ?? true))
    .map((entry) => ({ label: nameOf(entry), text: entry.value }));
}

/** Keep it on the disk; the page may go then. */
export async function keepHalfTyped(): Promise<void> {
  const found = lines();
  if (found.length > 0) await writeMeta("half_typed", { page: location.hash, atMs: Date.now(), lines: found });
}

export async function forgetHalfTyped(): Promise<void> {
  halfTyped.value = null;
  await writeMeta("half_typed", undefined);
}

/** From now on tell what a person typed from what a screen filled in; show what he left behind before. */
export async function watchTyping(): Promise<void> {
  const seen = (typed = new WeakSet<EventTarget>());
  document.addEventListener("input", ({ target }) => { if (target !== null) seen.add(target); }, true);
  halfTyped.value = (await readMeta("half_typed")) ?? null;
}
