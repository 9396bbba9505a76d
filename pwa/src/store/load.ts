/** Fills the signals from the database: at start, after an exchange, and when another tab wrote. */

import { batch } from "@preact/signals";

import { isShared } from "@/store/held.ts";
import { journal } from "@/store/journal.ts";
import { unsentSummary, reconcile } from "@/store/outbox.ts";
import type { News, Offset } from "@/store/ports.ts";
import { EVERYTHING, present, readMeta, withDb, writeMeta, type Book } from "@/store/schema.ts";
import { docs, events, isCopied, isReady, isTrimmed, offsetMs, session, tray, unsent, type Session } from "@/store/state.ts";

const channel = typeof BroadcastChannel === "undefined" ? null : new BroadcastChannel("brinebook");

const OFFSET_BELIEVED_MS = 7 * 24 * 3_600_000;
const ROOM_BYTES = 20_000_000;

/** The clocks' difference as last heard; an old one, or one from this clock's future, is not believed. */
export async function readOffset(): Promise<void> {
  const known: Offset | null = (await readMeta("offset")) ?? null;
  const ageMs = known === null ? -1 : Date.now() - known.atMs;
  offsetMs.value = known !== null && ageMs >= 0 && ageMs < OFFSET_BELIEVED_MS ? known.ms : null;
}

/** Read everything the screens show. */
export async function refresh(): Promise<void> {
  const before = events.value;
  const [storedEvents, storedDocs, storedTray, held, who, pruned, copied] = await Promise.all([
    withDb((db) => db.getAll("ev")),
    withDb((db) => db.getAll("docs")),
    withDb((db) => db.getAll("tray")),
    unsentSummary(),
    readMeta("session"),
    readMeta("is_pruned"),
    readMeta("copied_device"),
  ]);
  batch(() => {
    const book = new Map(storedEvents.map(({ id, event }) => [id, event]));
    // A tap while the book was read is on the disk, but not in what was read.
    if (events.value !== before) for (const [id, event] of events.value) if (!before.has(id)) book.set(id, event);
    events.value = book;
    docs.value = new Map(storedDocs.map((document) => [document.id, document]));
    tray.value = storedTray.map(({ item }) => item).sort((a, b) => b.atMs - a.atMs);
    unsent.value = held;
    session.value = who ?? null;
    isTrimmed.value = pruned === true;
    isCopied.value = who !== undefined && who !== null && copied === who.deviceId;
    isReady.value = true;
  });
}

/** Show what an exchange brought when nothing went; what the screens have already is left as it is. */
export function addNews(pages: readonly News[]): void {
  const fresh = pages.flatMap((page) => page.events).filter(({ id }) => !events.value.has(id));
  const changed = pages.flatMap((page) => page.documents);
  batch(() => {
    if (fresh.length > 0) events.value = new Map([...events.value, ...fresh.map((event) => [event.id, event] as const)]);
    if (changed.length === 0) return;
    const next = new Map(docs.value);
    for (const document of changed) {
      if (document.body === null || document.body === undefined) next.delete(document.id);
      else next.set(document.id, document);
    }
    docs.value = next;
  });
}

/** Facts given up for room are fetched again once there is room. */
async function refillWhenRoomy(): Promise<void> {
  if ((await readMeta("is_pruned")) !== true) return;
  const { quota = 0, usage = 0 } = (await globalThis.navigator?.storage?.estimate?.()) ?? {};
  if (quota - usage > ROOM_BYTES) await writeMeta("next_cursor", null);
}

/** Open the store: bring back what the journal saved, then show it. */
export async function start(): Promise<void> {
  channel?.addEventListener("message", () => void refresh());
  await reconcile();
  await Promise.all([readOffset(), refillWhenRoomy(), refresh()]);
}

/** Tell other tabs that the store changed. */
export function tellTabs(): void {
  channel?.postMessage("changed");
}

/** Begin to be somebody: what another person left behind goes, unless it is unsent. */
export async function enter(who: Session): Promise<void> {
  await enterIn(present, who);
  await refresh();
}

/** The same in any holder's book, shown or not. */
export async function enterIn({ readMeta, withDb }: Book, who: Session): Promise<void> {
  const before = await readMeta("session");
  const isSamePerson = before?.team.id === who.team.id && before.member.id === who.member.id;
  await withDb(async (db) => {
    const stores = EVERYTHING.filter((name) => name !== "outbox");
    const tx = db.transaction([...stores, "meta"], "readwrite", { durability: "strict" });
    const meta = tx.objectStore("meta");
    // What somebody else passed on from here stays out of sight until the server is seen to have it: a restore may
    // have lost both it and the person, who then joins as a new one.
    const passed = before?.team.id === who.team.id ? await tx.objectStore("authored").getAll() : [];
    if (!isSamePerson) {
      for (const name of stores) await tx.objectStore(name).clear();
      for (const one of passed) if (one.seal !== undefined) await tx.objectStore("authored").put({ ...one, isHeld: true });
    }
    await meta.put(null, "cursor");
    await meta.delete("next_cursor");
    await meta.put({ tokenAtMs: Date.now(), ...who }, "session");
    await tx.done;
  });
}

const LOOK = "brinebook.theme";

/** Drop what pages remember: bikes, clocks, choices. How the screen looks is the phone's own; what others chose stays theirs. */
function forgetShelves(memberId: string): void {
  const shelf = globalThis.localStorage;
  for (const key of Object.keys(shelf ?? {})) if (isShared() ? key.endsWith(`.${memberId}`) : key !== LOOK) shelf.removeItem(key);
}

/** Stop being anybody on this phone. Refused while facts wait, which would be lost, unless a person who was told so lets them go. */
export async function leave(onLeaving: () => unknown = () => undefined, isLettingGo = false): Promise<boolean> {
  if (!isLettingGo && (await unsentSummary()) !== null) return false;
  await onLeaving();
  const memberId = session.value?.member.id ?? "";
  await withDb(async (db) => {
    const stores = [...EVERYTHING.filter((name) => isLettingGo || name !== "outbox"), "meta" as const];
    const tx = db.transaction(stores, "readwrite", { durability: "strict" });
    await Promise.all([...stores.map((name) => tx.objectStore(name).clear()), tx.done]);
  });
  if (isLettingGo) journal.remove(journal.all().map(({ id }) => id));
  await refresh();
  // Only now: while somebody is here, pages remember anew.
  forgetShelves(memberId);
  tellTabs();
  return true;
}

/** Drop one item of the tray, once a person has seen it. */
export async function clearTray(id: string): Promise<void> {
  await withDb((db) => db.delete("tray", id));
  await refresh();
}

/** A random name of this phone, so that a join whose reply was lost can be asked again. */
export async function deviceKey(): Promise<string> {
  const known = await readMeta("device_key");
  if (known !== undefined) return known;
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  const made = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  await writeMeta("device_key", made);
  return made;
}
