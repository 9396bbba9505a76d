/** Registers the worker through the one trusted policy, and takes a new version on a tap outside a stage. */

import { isInStage, unsent, updateReady } from "@/store/state.ts";
import { exchange } from "@/sync/exchange.ts";

interface Policy {
  createScriptURL(url: string): unknown;
}
interface PolicyFactory {
  createPolicy(name: string, rules: { createScriptURL: (url: string) => string }): Policy;
}

const WORKER = "/sw.js";

function onlyOurWorker(url: string): string {
  if (url !== WORKER) throw new TypeError(url);
  return url;
}

function trustedWorkerUrl(): string {
  const factory = (globalThis as { trustedTypes?: PolicyFactory }).trustedTypes;
  if (factory === undefined) return WORKER;
  return factory.createPolicy("road-worker", { createScriptURL: onlyOurWorker }).createScriptURL(WORKER) as string;
}

let waiting: ServiceWorker | null = null;
let isTaking = false;

function watch(registration: ServiceWorkerRegistration): void {
  const look = (): void => {
    waiting = registration.waiting;
    updateReady.value = waiting !== null && navigator.serviceWorker.controller !== null;
  };
  look();
  registration.addEventListener("updatefound", () => {
    registration.installing?.addEventListener("statechange", look);
  });
}

/** True when the new version may be taken: no stage is on, and nothing waits on this phone. */
export const mayTakeUpdate = (): boolean => !isInStage.value && unsent.value === null;

export function takeUpdate(): void {
  if (!mayTakeUpdate()) return;
  isTaking = true;
  waiting?.postMessage("SKIP_WAITING");
}

export async function registerWorker(): Promise<void> {
  if (!("serviceWorker" in navigator)) return;
  navigator.serviceWorker.addEventListener("controllerchange", () => {
    if (isTaking) location.reload();
  });
  navigator.serviceWorker.addEventListener("message", (event) => {
    if (event.data === "EXCHANGE") void exchange();
  });
  const registration = await navigator.serviceWorker.register(trustedWorkerUrl());
  watch(registration);
  // A page that stays open for days asks by itself; offline the question fails and is asked again at the next sight.
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") void registration.update().catch(() => undefined);
  });
}
