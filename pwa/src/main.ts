/** Wires store, exchange and screens together; the only file that knows all. */

import { h, render } from "preact";

import "@/ui/tokens.css";
import "@/ui/app.css";
import "@/ui/road.css";
import { onAppend } from "@/store/commands.ts";
import { isEmpty, isShared, onElsewhere, startAnew } from "@/store/held.ts";
import { start } from "@/store/load.ts";
import { exchangeSoon, startExchanging } from "@/sync/when.ts";
import { registerWorker } from "@/sync/worker.ts";
import { App } from "@/ui/app.tsx";
import { startChoices } from "@/ui/choices.ts";
import { wantEarly } from "@/ui/early.ts";
import { startInstall } from "@/ui/install.tsx";
import { startSetup } from "@/ui/setup.ts";
import { startTheme } from "@/ui/theme.ts";

const PAINT_WITHIN_MS = 1000;

/** Resolves once the first screen has been painted, or would have been: a hidden page paints nothing. */
const painted = (): Promise<unknown> => Promise.race([
  new Promise((resolve) => requestAnimationFrame(() => setTimeout(resolve))),
  new Promise((resolve) => setTimeout(resolve, PAINT_WITHIN_MS)),
]);

/** Somebody took this phone in another window: what this page has of its owner goes, what he was typing is kept for him. */
async function leaveToOthers(): Promise<void> {
  const root = document.getElementById("app");
  root?.setAttribute("hidden", "");
  await import("@/ui/screens/hold/index.ts").then(({ keepHalfTyped }) => keepHalfTyped()).catch(() => undefined);
  startAnew(true);
}

// On a shared phone that nobody has taken today, no book is opened at all.
const starting = isEmpty ? Promise.resolve() : start();
onElsewhere(() => void leaveToOthers());
startTheme();
startInstall();
onAppend(exchangeSoon);
const spoken = startChoices();
if (!isEmpty) wantEarly(spoken());
try {
  await starting;
  await spoken();
} finally {
  const root = document.getElementById("app");
  if (root !== null) render(h(App, null), root);
}
await painted();
if (!isEmpty) startExchanging();
if (isShared()) void import("@/ui/screens/hold/index.ts").then(({ startHolding }) => startHolding(), () => undefined);
await registerWorker();
startSetup();
