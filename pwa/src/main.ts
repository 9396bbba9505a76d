/** Wires store, exchange and screens together; the only file that knows all. */

import { h, render } from "preact";

import "@/ui/tokens.css";
import "@/ui/app.css";
import "@/ui/road.css";
import { onAppend } from "@/store/commands.ts";
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

const starting = start();
startTheme();
startInstall();
onAppend(exchangeSoon);
const spoken = startChoices();
wantEarly(spoken());
try {
  await starting;
  await spoken();
} finally {
  const root = document.getElementById("app");
  if (root !== null) render(h(App, null), root);
}
await painted();
startExchanging();
await registerWorker();
startSetup();
