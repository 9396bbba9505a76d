/** One reply into the store: verdicts, facts, documents and the cursor in one transaction. */

import type { ExchangeReply, FactEvent } from "@/protocol/records.ts";
import { SHELVES, type Copies, type News, type Offset, type Ports, type Store, type StoredEvent, type Tx } from "@/store/ports.ts";
import { settleVerdict, TOO_LARGE } from "@/sync/verdict.ts";

const KEEP_AUTHORED_MS = 30 * 24 * 3_600_000;
/** A control event: the subject named asked to be forgotten. */
const ERASE = "erase";

export interface Sent {
  readonly cursor: string | null;
  readonly events: readonly FactEvent[];
  readonly deviceId: string;
  readonly offset: Offset | null;
}

export interface Applied {
  /** Ids that left the outbox. */
  readonly settled: readonly string[];
  /** The server is another one, or lost its place: what was authored here waits again. */
  readonly isPushedAgain: boolean;
  /** Another tab got there first: only the verdicts counted. */
  readonly isStale: boolean;
  readonly isChanged: boolean;
  /** What came, when nothing went: the screens need not read the whole book again. Null: they must. */
  readonly news: News | null;
}

/**
 * Everything made on this phone in the last thirty days waits again; the server tells repetitions apart by id. What was
 * refused goes too: the other history may have lost what was set aside for review.
 */
export async function pushAgain(tx: Tx, copies: Copies): Promise<void> {
  const refused = (await tx.all("tray")).map(({ item }) => item).filter(({ verdict }) => verdict.code !== TOO_LARGE);
  for (const { event } of [...(await tx.all("authored")).filter(({ isHeld }) => isHeld !== true), ...refused]) {
    copies.add(event);
    await tx.put("outbox", event);
  }
}

/**
 * The history changes: what the server took from others, and this phone had read, may be gone there. It is held, out of
 * sight, until it comes down again; what does not is handed back under its seal.
 */
export async function holdOthers(tx: Tx, atMs: number): Promise<void> {
  const held = new Set((await tx.all("authored")).map(({ id }) => id));
  for (const name of ["ev", "ev_next"] as const) {
    for (const { id, event, seal } of await tx.all(name)) {
      if (seal && !held.has(id)) await tx.put("authored", { id, event, passedAtMs: atMs, seal, isHeld: true });
    }
  }
}

async function forgetHeld(tx: Tx, isGoing: (subject: string) => boolean): Promise<void> {
  for (const { id, event, isHeld } of await tx.all("authored")) {
    if (isHeld !== true || !isGoing(event.subject_id)) continue;
    await Promise.all([tx.delete("authored", id), tx.delete("outbox", id)]);
  }
}

/** Throw away what was pulled; what was made here stays. */
async function startOver(tx: Tx): Promise<void> {
  await Promise.all([
    tx.clear("ev"), tx.clear("docs"), tx.clear("ev_next"), tx.clear("docs_next"), tx.remember("next_cursor", undefined),
    tx.remember("is_pruned", false),
  ]);
  for (const { id, event, isHeld } of await tx.all("authored")) if (isHeld !== true) await tx.put("ev", { id, event });
  for (const event of await tx.all("outbox")) await tx.put("ev", { id: event.id, event });
}

async function forgetOld(tx: Tx, atMs: number): Promise<void> {
  for (const { id, passedAtMs } of await tx.all("authored")) {
    if (atMs - passedAtMs > KEEP_AUTHORED_MS) await tx.delete("authored", id);
  }
}

/** Forget subjects that left the scope, or were erased; unsent facts wait for their own verdicts. */
async function dropSubjects(tx: Tx, subjects: ReadonlySet<string>, isErased: boolean): Promise<void> {
  if (subjects.size === 0) return;
  await forgetHeld(tx, (subject) => subjects.has(subject));
  const unsent = new Set((await tx.all("outbox")).map(({ id }) => id));
  for (const name of ["ev", "ev_next"] as const) {
    for (const { id, event } of await tx.all(name)) if (subjects.has(event.subject_id) && !unsent.has(id)) await tx.delete(name, id);
  }
  for (const name of ["docs", "docs_next"] as const) {
    for (const { id, subject_id } of await tx.all(name)) if (subjects.has(subject_id)) await tx.delete(name, id);
  }
  if (!isErased) return;
  for (const { id, event } of await tx.all("authored")) if (subjects.has(event.subject_id)) await tx.delete("authored", id);
  for (const { id, item } of await tx.all("tray")) if (subjects.has(item.event.subject_id)) await tx.delete("tray", id);
}

/**
 * Whether facts come down under this device's id that it never made: a number it has not reached, or one that it gave to
 * another fact. Number 0 is what the server states for a device.
 */
async function isSpeakingTwice(tx: Tx, deviceId: string, pulled: readonly StoredEvent[]): Promise<boolean> {
  const mine = pulled.filter(({ event }) => event.device_id === deviceId && event.n > 0);
  if (mine.length === 0) return false;
  const counter = Number((await tx.recall("counter")) ?? 0);
  const made = [...(await tx.all("outbox")), ...(await tx.all("authored")).map(({ event }) => event)];
  const idOf = new Map(made.filter(({ device_id }) => device_id === deviceId).map(({ n, id }) => [n, id]));
  return mine.some(({ id, event }) => event.n > counter || (idOf.get(event.n) ?? id) !== id);
}

async function putPage(tx: Tx, reply: ExchangeReply, pulled: readonly StoredEvent[], isRefetch: boolean): Promise<void> {
  const [ev, docs] = isRefetch ? (["ev_next", "docs_next"] as const) : (["ev", "docs"] as const);
  const erased = pulled.filter(({ event }) => event.kind === ERASE).map(({ event }) => event.subject_id);
  await dropSubjects(tx, new Set(reply.drop ?? []), false);
  await dropSubjects(tx, new Set(erased), true);
  let lamport = Number((await tx.recall("lamport")) ?? 0);
  for (const stored of pulled) {
    await tx.put(ev, stored);
    lamport = Math.max(lamport, stored.event.lamport);
  }
  for (const document of reply.documents) {
    if (document.body === null || document.body === undefined) await tx.delete(docs, document.id);
    else await tx.put(docs, document);
  }
  await tx.remember("lamport", lamport);
}

/** A reply that only adds, or null: a refusal, an erasure or a subject out of sight takes something away. */
function newsIn(reply: ExchangeReply): News | null {
  const isTaken = reply.verdicts.every(({ status }) => status === "ok" || status === "dup");
  const events = reply.events.map(([, event]) => event);
  const isAdding = isTaken && (reply.drop ?? []).length === 0 && !events.some(({ kind }) => kind === ERASE);
  return isAdding ? { events, documents: reply.documents } : null;
}

/** The cursor of the next request: that of a refetch while one is on. */
export async function cursorIn(tx: Tx): Promise<string | null> {
  const next = await tx.recall("next_cursor");
  return next === undefined ? ((await tx.recall("cursor")) ?? null) : next;
}

async function settleAll(tx: Tx, reply: ExchangeReply, sent: Sent, atMs: number): Promise<string[]> {
  const verdicts = new Map(reply.verdicts.map((verdict) => [verdict.id, verdict]));
  const settled: string[] = [];
  for (const event of sent.events) {
    const verdict = verdicts.get(event.id);
    if (verdict !== undefined && (await settleVerdict(tx, verdict, event, atMs))) settled.push(event.id);
  }
  return settled;
}

/** Apply one page. Either all of it is on the disk, cursor included, or none of it. */
export async function applyReply(ports: Ports, reply: ExchangeReply, sent: Sent): Promise<Applied> {
  const { store, copies, hash } = ports;
  const pulled: StoredEvent[] = [];
  for (const [i, [, event]] of reply.events.entries()) {
    const seal = reply.seals?.[i];
    pulled.push({ id: event.id, event, hash: await hash(event.id), ...(seal ? { seal } : {}) });
  }
  // By the server's clock: one that jumped on the phone must not make it forget what it authored.
  const atMs = reply.now_ms;
  const applied = await store.write(SHELVES, async (tx) => {
    const settled = await settleAll(tx, reply, sent, atMs);
    if ((await cursorIn(tx)) !== sent.cursor) return { settled, isPushedAgain: false, isStale: true, isChanged: settled.length > 0, news: null };
    const epoch = await tx.recall("epoch");
    const isOther = typeof epoch === "string" && epoch !== reply.epoch;
    const isOrdered = isOther || (reply.reset === true && sent.cursor !== null);
    const isFirst = reply.reset === true && (await tx.recall("next_cursor")) === undefined;
    if (isOrdered) await holdOthers(tx, atMs);
    if (isOrdered || isFirst) await startOver(tx);
    if (isOrdered) await pushAgain(tx, copies);
    const isRefetch = (await tx.recall("next_cursor")) !== undefined;
    const isCopied = await isSpeakingTwice(tx, sent.deviceId, pulled);
    if (isCopied) await tx.remember("copied_device", sent.deviceId);
    await putPage(tx, reply, pulled, isRefetch);
    await forgetOld(tx, atMs);
    await tx.remember(isRefetch ? "next_cursor" : "cursor", reply.cursor);
    await tx.remember("epoch", reply.epoch);
    if (sent.offset !== null) await tx.remember("offset", sent.offset);
    const isBegun = isOrdered || isFirst;
    const isChanged = settled.length + pulled.length + reply.documents.length > 0 || isBegun || (reply.drop ?? []).length > 0;
    const news = isBegun || isRefetch || isCopied ? null : newsIn(reply);
    return { settled, isPushedAgain: isOrdered, isStale: false, isChanged, news };
  });
  copies.remove(applied.settled);
  return applied;
}

/** Take the verdicts of a page that there is no room for; it comes again. */
export async function applyVerdicts({ store, copies }: Ports, reply: ExchangeReply, sent: Sent): Promise<void> {
  copies.remove(await store.write(SHELVES, (tx) => settleAll(tx, reply, sent, reply.now_ms)));
}

/** Forget what was read here; what was made here stays. */
export async function forgetPulled(store: Store): Promise<void> {
  await store.write(SHELVES, async (tx) => {
    await forgetHeld(tx, () => true);
    await startOver(tx);
    await tx.remember("cursor", null);
  });
}
