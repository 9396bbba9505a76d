/** The theme is chosen by hand and sticks to this device: no light sensor is portable. */

import { signal } from "@preact/signals";

export const THEMES = ["roadbook", "slate", "tarmac"] as const;
export type Theme = (typeof THEMES)[number];

const SHELF = "brinebook.theme";
const PAPER: Readonly<Record<Theme, string>> = { roadbook: "#F6F1E6", slate: "#14181C", tarmac: "#FFFFFF" };

function stored(): Theme {
  const found = THEMES.find((theme) => theme === localStorage.getItem(SHELF));
  if (found !== undefined) return found;
  return matchMedia("(prefers-contrast: more)").matches ? "tarmac" : "roadbook";
}

export const theme = signal<Theme>("roadbook");

function show(chosen: Theme): void {
  theme.value = chosen;
  document.documentElement.dataset["theme"] = chosen;
  document.querySelector('meta[name="theme-color"]')?.setAttribute("content", PAPER[chosen]);
}

export function chooseTheme(chosen: Theme): void {
  localStorage.setItem(SHELF, chosen);
  show(chosen);
}

export const startTheme = (): void => show(stored());
