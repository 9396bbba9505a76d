/** When to exchange: on open, on sight, on line, on a new fact, every half minute, and when the server has news. */

import { now, session } from "@/store/state.ts";
import { mayTry } from "@/sync/backoff.ts";
import { exchange } from "@/sync/exchange.ts";

const EVERY_MS = 30_000;
const TICK_MS = 10_000;
const AFTER_FACT_MS = 400;
const LIVE_RETRY_MS = 20_000;

let soon: ReturnType<typeof setTimeout> | undefined;
let lastTryMs = 0;

function go(): void {
  if (session.value === null) return;
  lastTryMs = Date.now();
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

function onTick(): void {
  now.value = Date.now();
  const jitter = Math.random() * TICK_MS;
  if (document.visibilityState !== "visible" || Date.now() - lastTryMs < EVERY_MS - jitter) return;
  if (mayTry(Date.now())) go();
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
  setInterval(onTick, TICK_MS);
  go();
  void listen();
}
