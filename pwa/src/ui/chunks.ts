/** Which chunk holds which screen. A chunk comes when its first screen is wanted, from the worker's cache where it is kept. */

import { signal } from "@preact/signals";
import type { ComponentType } from "preact";

import { wantWords } from "@/ui/words.ts";

type Routes = Readonly<Record<string, ComponentType>>;
type Chunk = "join" | "road" | "rider" | "crew" | "coolbox" | "me" | "shared" | "mine" | "hold" | "staff";

const PAGES: Readonly<Record<string, Chunk>> = {
  join: "join", road: "road", bus: "rider", weeks: "rider", "hand-up": "crew", returns: "crew", slate: "crew", "weigh-room": "crew",
  coolbox: "coolbox", me: "me", shared: "shared", rides: "shared", mine: "mine", hold: "hold",
};
const CHUNKS: Readonly<Record<Chunk, () => Promise<{ routes: Routes }>>> = {
  join: async () => ({ routes: { join: (await Promise.all([import("@/ui/screens/shared/join.tsx"), wantWords("own")]))[0].Join } }),
  road: async () => ({ routes: { road: (await import("@/ui/screens/rider/road.tsx")).Road } }),
  rider: async () => (await Promise.all([import("@/ui/screens/rider/index.ts"), wantWords("pages", "own", "story")]))[0],
  crew: async () => (await Promise.all([import("@/ui/screens/shared/crew.ts"), wantWords("pages", "own", "story", "crew")]))[0],
  coolbox: async () => (await Promise.all([import("@/ui/screens/coolbox/index.ts"), wantWords("pages", "own", "story", "crew")]))[0],
  me: async () => (await Promise.all([import("@/ui/screens/shared/me.tsx"), wantWords("pages", "own")]))[0],
  shared: async () => (await Promise.all([import("@/ui/screens/shared/shared_file.tsx"), wantWords("pages", "own", "story", "crew")]))[0],
  mine: async () => (await Promise.all([import("@/ui/screens/shared/mine.tsx"), wantWords("pages", "own", "mine")]))[0],
  hold: async () => (await Promise.all([import("@/ui/screens/hold/index.ts"), wantWords("pages", "own")]))[0],
  staff: async () => (await Promise.all([import("@/ui/screens/staff/index.ts"), wantWords("pages", "own", "story", "staff")]))[0],
};

/** Says on top who holds a phone that several share; no other phone has it. */
export const band = signal<ComponentType | null>(null);

const screens = signal<Routes>({});
/** The last chunk asked for could not be had: this phone is offline and does not keep it. */
export const isFailed = signal(false);
const asked = new Set<Chunk>();

/** Fetch the chunk of a page, once. */
export function want(name: string): void {
  const chunk = PAGES[name] ?? "staff";
  if (asked.has(chunk)) return;
  asked.add(chunk);
  CHUNKS[chunk]().then(
    ({ routes }) => {
      isFailed.value = false;
      screens.value = { ...screens.value, ...routes };
    },
    () => {
      asked.delete(chunk);
      isFailed.value = true;
    },
  );
}

/** The component of a page, or undefined while it is being fetched. */
export function screenOf(name: string): ComponentType | undefined {
  const found = screens.value[name];
  if (found === undefined && !isFailed.value) want(name);
  return found;
}
