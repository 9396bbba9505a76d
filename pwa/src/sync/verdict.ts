/** What a verdict does to the outbox; an unmentioned or "retry" event stays where it is. */

import type { FactEvent, LinkBody, Verdict } from "@/protocol/records.ts";
import type { Tx } from "@/store/ports.ts";

export const TOO_LARGE = "too_large";

async function setAside(tx: Tx, verdict: Verdict, event: FactEvent, atMs: number): Promise<void> {
  const { id } = event;
  await tx.put("tray", { id, item: { event, verdict, atMs } });
  await tx.delete("authored", id);
  // What came from the server under this id is not this phone's to forget.
  if ((await tx.get("ev", id))?.hash === undefined) await tx.delete("ev", id);
}

/** Somebody else's fact, handed back: what the server says of it is no news for this person. */
async function letGo(tx: Tx, id: string): Promise<void> {
  await Promise.all([tx.delete("authored", id), tx.delete("outbox", id)]);
  if ((await tx.get("ev", id))?.hash === undefined) await tx.delete("ev", id);
}

async function forget(tx: Tx, id: string): Promise<void> {
  await Promise.all((["ev", "ev_next", "authored", "tray"] as const).map((name) => tx.delete(name, id)));
}

/** The server does not know the fact that a correction names: when it was made here, it goes along the next time. */
async function sendNamedAgain(tx: Tx, event: FactEvent): Promise<void> {
  const { a, b } = (event.body ?? {}) as Partial<LinkBody>;
  for (const id of [event.ref, a, b]) {
    if (typeof id !== "string") continue;
    const named = (await tx.get("authored", id))?.event ?? (await tx.get("tray", id))?.item.event;
    if (named !== undefined) await tx.put("outbox", named);
  }
}

/** Settle one sent event; true when it left the outbox. */
export async function settleVerdict(tx: Tx, verdict: Verdict, event: FactEvent, atMs: number): Promise<boolean> {
  const { id } = event;
  const before = await tx.get("authored", id);
  if (before?.isHeld === true && verdict.status !== "retry") {
    await letGo(tx, id);
    return true;
  }
  switch (verdict.status) {
    case "ok":
    case "dup": {
      const seal = verdict.seal ?? before?.seal;
      const isConfirmed = verdict.status === "dup" && before !== undefined;
      await tx.put("authored", { id, event, passedAtMs: atMs, isConfirmed, ...(seal ? { seal } : {}) });
      await tx.delete("tray", id);
      break;
    }
    case "rejected":
    case "conflict":
      await setAside(tx, verdict, event, atMs);
      break;
    case "erased":
      await forget(tx, id);
      break;
    default:
      if (verdict.code === "unknown_ref") await sendNamedAgain(tx, event);
      return false;
  }
  await tx.delete("outbox", id);
  return true;
}

/** An event too large even alone would block all others: it goes to the tray, where a person sees it. */
export async function setAsideTooLarge(tx: Tx, event: FactEvent, atMs: number): Promise<void> {
  await setAside(tx, { id: event.id, status: "rejected", code: TOO_LARGE }, event, atMs);
  await tx.delete("outbox", event.id);
}
