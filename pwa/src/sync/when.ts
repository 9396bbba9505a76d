/** When to exchange: on open, on sight, on line, on a new fact, every half minute, and when the server has news. */

import { now, session } from "@/store/state.ts";
import { mayTry } from "@/sync/backoff.ts";
import { exchange } from "@/sync/exchange.ts";

const EVERY_MS = 30_000;
/** Each wait is drawn anew, a quarter shorter to a quarter longer, so that phones that once met the server together part again. */
const SPREAD = 0.25;
const TICK_MS = 10_000;
const AFTER_FACT_MS = 400;
const LIVE_RETRY_MS = 20_000;

let soon: ReturnType<typeof setTimeout> | undefined;
let dueMs = 0;

/** How long until the next look, for a random number from 0 to 1. */
export const pollInMs = (random: number): number => EVERY_MS * (1 - SPREAD + 2 * SPREAD * random);

function go(): void {
  if (session.value === null) return;
  dueMs = Date.now() + pollInMs(Math.random());
  void exchange();
}

interface Syncing extends ServiceWorkerRegistration {
  readonly sync?: { register(tag: string): Promise<void> };
}

/** Where the platform can, it wakes us when the network is back; a bonus, nothing rests on it. */
async function askForBackgroundSync(): Promise<void> {
  const registration = (await navigator.serviceWorker?.ready) as Syncing | undefined;
  await registration?.sync?.register("exchange");
}

/** A burst of taps makes one pass. */
export function exchangeSoon(): void {
  askForBackgroundSync().catch(() => undefined);
  clearTimeout(soon);
  soon = setTimeout(go, AFTER_FACT_MS);
}

/** Look when it is due: a fact passed on meanwhile has put it off. */
function onPoll(): void {
  const leftMs = dueMs - Date.now();
  const isDue = leftMs <= 0 && document.visibilityState === "visible" && mayTry(Date.now());
  if (isDue) go();
  setTimeout(onPoll, isDue || leftMs <= 0 ? pollInMs(Math.random()) : leftMs);
}

async function readLines(body: ReadableStream<Uint8Array>): Promise<void> {
  const reader = body.getReader();
  const decoder = new TextDecoder();
  for (;;) {
    const { done, value } = await reader.read();
    if (done) return;
    if (decoder.decode(value, { stream: true }).includes("data:")) exchangeSoon();
  }
}

/** Listen while the page is seen; the stream carries only that there is news. */
async function listen(): Promise<void> {
  let open: AbortController | null = null;
  const stop = (): void => open?.abort();
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "hidden") stop();
  });
  for (;;) {
    const token = session.value?.token;
    if (token !== undefined && document.visibilityState === "visible") {
      open = new AbortController();
      try {
        const headers = { Authorization: `Bearer ${token}`, Accept: "text/event-stream" };
        const reply = await fetch("/api/live", { headers, signal: open.signal, cache: "no-store", credentials: "omit" });
        if (reply.ok && reply.body !== null) await readLines(reply.body);
      } catch {
        // The stream is a hint; the timer exchanges without it.
      }
    }
    await new Promise((resolve) => setTimeout(resolve, LIVE_RETRY_MS * (0.5 + Math.random())));
  }
}

/** Begin to exchange by itself. */
export function startExchanging(): void {
  document.addEventListener("visibilitychange", () => {
    now.value = Date.now();
    if (document.visibilityState === "visible") go();
  });
  addEventListener("online", go);
  addEventListener("pageshow", go);
  setInterval(() => { now.value = Date.now(); }, TICK_MS);
  go();
  setTimeout(onPoll, dueMs - Date.now());
  void listen();
}
