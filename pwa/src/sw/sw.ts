/** The worker: the shell from its cache, the API never, a push as a hint, an update only when the page asks. */

import { cleanupOutdatedCaches, matchPrecache, precache, type PrecacheEntry } from "workbox-precaching";

import { handIn } from "@/sync/hand_in.ts";

declare const self: ServiceWorkerGlobalScope & { __WB_MANIFEST: (PrecacheEntry | string)[] };

/** What the page tells once somebody is signed in: which chunks this phone needs offline, and its sentences. */
interface Setup {
  readonly groups: readonly string[];
  readonly sentences: Readonly<Record<string, string>>;
}

/** One constant sentence per class; a push holds no name and no value. */
const SENTENCES: Readonly<Record<string, string>> = {
  plan: "A plan changed",
  settle: "A stage waits to be settled",
  weigh: "Somebody should weigh again",
  flag: "A warning waits for you",
  sync: "There is news in the book",
};
const KEPT = "brinebook-kept";
const [SETUP, SHARED] = ["/kept/setup", "/kept/shared"];

const urlOf = (entry: PrecacheEntry | string): string => new URL(typeof entry === "string" ? entry : entry.url, self.location.origin).href;
/** "/assets/staff/x.js" belongs to the group "staff"; what has no group is every phone's shell. */
const groupOf = (url: string): string | undefined => /\/assets\/([^/]+)\/[^/]+$/.exec(url)?.[1];

const entries = self.__WB_MANIFEST;
precache(entries.filter((entry) => groupOf(urlOf(entry)) === undefined));
cleanupOutdatedCaches();
const grouped = entries.map(urlOf).filter((url) => groupOf(url) !== undefined);

async function setup(): Promise<Setup> {
  const stored = await (await caches.open(KEPT)).match(SETUP);
  return stored === undefined ? { groups: [], sentences: {} } : ((await stored.json()) as Setup);
}

/** Fetch the chunks of the groups this phone needs, those of this version that are not here yet. */
async function keepGroups(): Promise<void> {
  const kept = await caches.open(KEPT);
  const { groups } = await setup();
  const wanted = grouped.filter((url) => groups.includes(groupOf(url) ?? ""));
  const there = await Promise.all(wanted.map((url) => kept.match(url)));
  await kept.addAll(wanted.filter((_, i) => there[i] === undefined));
}

async function forgetOldGroups(): Promise<void> {
  const kept = await caches.open(KEPT);
  const old = (await kept.keys()).filter(({ url }) => groupOf(url) !== undefined && !grouped.includes(url));
  await Promise.all(old.map((request) => kept.delete(request)));
}

self.addEventListener("install", (event) => event.waitUntil(keepGroups()));
self.addEventListener("activate", (event) => event.waitUntil(Promise.all([forgetOldGroups(), self.clients.claim()])));

async function fromShell(request: Request): Promise<Response> {
  const cached = await matchPrecache(request.mode === "navigate" ? "/index.html" : request.url);
  return cached ?? (await caches.match(request, { cacheName: KEPT })) ?? fetch(request);
}

/** A file shared from another app waits here until the page has shown it. */
async function keepShared(request: Request): Promise<Response> {
  const file = (await request.formData()).get("file");
  if (file instanceof File) {
    const headers = { "Content-Type": file.type || "application/octet-stream", "X-Name": encodeURIComponent(file.name) };
    await (await caches.open(KEPT)).put(SHARED, new Response(file, { headers }));
  }
  return Response.redirect("/#/shared", 303);
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin || url.pathname.startsWith("/api/")) return;
  if (request.method === "POST" && url.pathname === "/share") event.respondWith(keepShared(request));
  if (request.method === "GET") event.respondWith(fromShell(request));
});

async function tellPages(message: string): Promise<void> {
  for (const client of await self.clients.matchAll({ type: "window" })) client.postMessage(message);
}

/** A page that is seen exchanges by itself; hidden pages may be frozen, so without one the worker hands in what waits. */
async function passOn(): Promise<void> {
  const pages = await self.clients.matchAll({ type: "window" });
  if (!pages.some(({ visibilityState }) => visibilityState === "visible")) await handIn();
  await tellPages("EXCHANGE");
}

self.addEventListener("message", (event) => {
  if (event.data === "SKIP_WAITING") void self.skipWaiting();
  const told = event.data as Partial<Setup> | null;
  if (told?.groups === undefined) return;
  const stored = new Response(JSON.stringify(told), { headers: { "Content-Type": "application/json" } });
  event.waitUntil(caches.open(KEPT).then((kept) => kept.put(SETUP, stored)).then(keepGroups));
});

async function show(word: string): Promise<void> {
  const { sentences } = await setup();
  const known = SENTENCES[word] === undefined ? "sync" : word;
  const body = sentences[known] ?? SENTENCES[known] ?? "";
  await self.registration.showNotification("Brinebook", { body, tag: `brinebook-${known}`, icon: "/icons/any-192.png" });
}

self.addEventListener("push", (event) => {
  event.waitUntil(Promise.all([show(event.data?.text() ?? ""), passOn().catch(() => undefined)]));
});

self.addEventListener("sync", (event) => {
  (event as ExtendableEvent).waitUntil(passOn());
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
