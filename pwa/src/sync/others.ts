/** Hands in what the others on a shared phone noted, while somebody else, or nobody, holds it. Nothing of theirs is read. */

import { bookName, type Holder } from "@/core/held.ts";
import { unsentIn, waitingIn } from "@/store/facts.ts";
import { holders, isAsked, presentId } from "@/store/held.ts";
import { keepHolders } from "@/store/holders.ts";
import { journalOf } from "@/store/journal.ts";
import { Refused, type Ports } from "@/store/ports.ts";
import { bookNamed, present, type Book } from "@/store/schema.ts";
import { applyVerdicts } from "@/sync/apply.ts";
import { waitMs } from "@/sync/backoff.ts";
import { isUnknown, portsFor } from "@/sync/exchange.ts";
import { ask, fitting, handOver, isRevoked, isTooLong, MOST_EVENTS, MOST_PAGES, newPace, shorten, type Pace } from "@/sync/pass.ts";

const EVERY_MS = 30_000;
const SOONEST_MS = 1_000;
const LOCK = "brinebook-others";
const paces = new Map<string, Pace>();
let nFailures = 0;
let notBeforeMs = 0;

/** Work on a holder's book, and let go of it again. */
export async function inBookOf<T>(id: string, work: (book: Book) => Promise<T>): Promise<T> {
  if (id === presentId) return work(present);
  const book = bookNamed(bookName(id));
  try {
    return await work(book);
  } finally {
    await book.close();
  }
}

/** How many entries of a holder wait on this phone. */
export const waitingOf = (id: string): Promise<number> =>
  inBookOf(id, async ({ store }) => (await unsentIn(store))?.count ?? 0);

const mark = (id: string, isOut: boolean): void =>
  keepHolders(holders().map((one) => (one.id === id && (one.isOut ?? false) !== isOut ? { ...one, isOut } : one)));

/**
 * Hand in what waits in a book that nobody has open now, and take the verdicts; nothing of its owner's is read. Resolves with
 * the server's refusal, or null.
 */
export async function passOn(ports: Ports, pace: Pace, deviceId: string): Promise<unknown> {
  for (let page = 0; page < MOST_PAGES; page += 1) {
    const events = fitting(await waitingIn(ports.store, pace.batchSize));
    if (events.length === 0) return null;
    try {
      const { reply, sent } = await ask(ports, deviceId, events, { limit: 0 });
      await applyVerdicts(ports, reply, sent);
      pace.batchSize = Math.min(MOST_EVENTS, pace.batchSize * 2);
    } catch (problem) {
      if (problem instanceof Refused && isRevoked(problem)) await handOver(ports, pace, deviceId, problem.epoch);
      if (!isTooLong(problem)) return problem;
      await shorten(ports, pace, events);
      continue;
    }
    // "Try again later": the rest of the book waits with it.
    if ((await waitingIn(ports.store, 1))[0]?.id === events[0]?.id) return null;
  }
  return null;
}

async function passOnOf({ id }: Holder): Promise<unknown> {
  return inBookOf(id, async ({ store, readMeta }) => {
    const who = await readMeta("session");
    if (!who) return null;
    const pace = paces.get(id) ?? newPace();
    paces.set(id, pace);
    const problem = await passOn(portsFor(store, journalOf(id), who.token), pace, who.deviceId);
    if (problem !== null && (isRevoked(problem) || isUnknown(problem))) mark(id, true);
    return isRevoked(problem) || isUnknown(problem) ? null : problem;
  });
}

async function passAll(): Promise<void> {
  // Whoever holds the phone hands in by himself; while nobody does, his book is one of the others.
  const others = holders().filter(({ id }) => isAsked.value || id !== presentId);
  const problems = await Promise.all(others.map((one) => passOnOf(one).catch((problem: unknown) => problem)));
  nFailures = problems.every((problem) => problem === null) ? 0 : nFailures + 1;
  notBeforeMs = Date.now() + waitMs(nFailures, Math.random(), null);
}

/** Hand in for all others, once over all tabs. */
export async function passOthers(): Promise<void> {
  const locks = globalThis.navigator?.locks;
  if (locks === undefined) return passAll();
  await locks.request(LOCK, { ifAvailable: true }, (lock) => (lock === null ? undefined : passAll()));
}

/** On open, on sight, on line, every half minute, and sooner after a failure, as long as that waits its turn. */
export function startPassingOthers(): void {
  let next: ReturnType<typeof setTimeout> | undefined;
  const go = async (): Promise<void> => {
    clearTimeout(next);
    if (document.visibilityState === "visible") await passOthers().catch(() => undefined);
    clearTimeout(next);
    next = setTimeout(() => void go(), nFailures === 0 ? EVERY_MS : Math.max(SOONEST_MS, notBeforeMs - Date.now()));
  };
  addEventListener("online", () => void go());
  document.addEventListener("visibilitychange", () => void go());
  void go();
}
