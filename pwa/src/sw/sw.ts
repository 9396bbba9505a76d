/** The worker: the shell from its cache, the API never, a push as a hint, an update only when the page asks. */

import { cleanupOutdatedCaches, matchPrecache, precache, type PrecacheEntry } from "workbox-precaching";

declare const self: ServiceWorkerGlobalScope & { __WB_MANIFEST: (PrecacheEntry | string)[] };

/** One constant sentence per class; a push holds no name and no value. */
const SENTENCES: Readonly<Record<string, string>> = {
  plan: "A plan changed",
  settle: "A stage waits to be settled",
  sync: "There is news in the book",
};

precache(self.__WB_MANIFEST);
cleanupOutdatedCaches();

self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

async function fromShell(request: Request): Promise<Response> {
  const cached = await matchPrecache(request.mode === "navigate" ? "/index.html" : request.url);
  return cached ?? fetch(request);
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin || url.pathname.startsWith("/api/")) return;
  event.respondWith(fromShell(request));
});

async function tellPages(message: string): Promise<void> {
  for (const client of await self.clients.matchAll({ type: "window" })) client.postMessage(message);
}

self.addEventListener("message", (event) => {
  if (event.data === "SKIP_WAITING") void self.skipWaiting();
});

self.addEventListener("push", (event) => {
  const text = event.data?.text() ?? "";
  const sentence = SENTENCES[text] ?? SENTENCES["sync"] ?? "";
  const shown = self.registration.showNotification("Brinebook", { body: sentence, tag: "brinebook", icon: "/icons/any-192.png" });
  event.waitUntil(Promise.all([shown, tellPages("EXCHANGE")]));
});

self.addEventListener("sync", (event) => {
  (event as ExtendableEvent).waitUntil(tellPages("EXCHANGE"));
});

async function openPage(): Promise<void> {
  const [client] = await self.clients.matchAll({ type: "window" });
  if (client === undefined) await self.clients.openWindow("/");
  else await client.focus();
}

self.addEventListener("notificationclick", (event) => {
  event.notification.close();
  event.waitUntil(openPage());
});
