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
import { startSetup } from "@/ui/setup.ts";
import { startTheme } from "@/ui/theme.ts";

startTheme();
onAppend(exchangeSoon);
try {
  await start();
  await startChoices();
} finally {
  const root = document.getElementById("app");
  if (root !== null) render(h(App, null), root);
}
startExchanging();
await registerWorker();
startSetup();
