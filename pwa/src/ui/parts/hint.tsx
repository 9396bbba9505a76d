import { signal } from "@preact/signals";
import type { ComponentChildren } from "preact";

import { Button } from "@/ui/parts/button.tsx";
import { t } from "@/ui/words.ts";

const SHELF = "brinebook.seen";
const seen = signal<ReadonlySet<string>>(new Set((globalThis.localStorage?.getItem(SHELF) ?? "").split(" ")));

export const isHintSeen = (name: string): boolean => seen.value.has(name);

/** Never say this again on this phone. */
export function seeHint(name: string): void {
  if (isHintSeen(name)) return;
  seen.value = new Set([...seen.value, name]);
  localStorage.setItem(SHELF, [...seen.value].join(" "));
}

/** How a screen works, said once: it stands in the page, blocks nothing, and goes for good on a tap. */
export function Hint({ name, children }: { name: string; children: ComponentChildren }) {
  if (isHintSeen(name)) return null;
  return <aside class="hint" aria-label={t("hint.label")}><p>{children}</p><Button kind="quiet" onPress={() => seeHint(name)}>{t("hint.seen")}</Button></aside>;
}
