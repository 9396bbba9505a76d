/** What a verdict does to the outbox; an unmentioned or "retry" event stays where it is. */

import type { FactEvent, Verdict } from "@/protocol/records.ts";
import type { Tx } from "@/store/ports.ts";

async function setAside(tx: Tx, verdict: Verdict, event: FactEvent, atMs: number): Promise<void> {
  const { id } = event;
  await tx.put("tray", { id, item: { event, verdict, atMs } });
  await tx.delete("authored", id);
  // What came from the server under this id is not this phone's to forget.
  if ((await tx.get("ev", id))?.hash === undefined) await tx.delete("ev", id);
}

async function forget(tx: Tx, id: string): Promise<void> {
  await Promise.all((["ev", "ev_next", "authored", "tray"] as const).map((name) => tx.delete(name, id)));
}

/** Settle one sent event; true when it left the outbox. */
export async function settleVerdict(tx: Tx, verdict: Verdict, event: FactEvent, atMs: number): Promise<boolean> {
  const { id } = event;
  switch (verdict.status) {
    case "ok":
    case "dup": {
      const isConfirmed = verdict.status === "dup" && (await tx.get("authored", id)) !== undefined;
      await tx.put("authored", { id, event, passedAtMs: atMs, isConfirmed });
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
      return false;
  }
  await tx.delete("outbox", id);
  return true;
}

/** An event too large even alone would block all others: it goes to the tray, where a person sees it. */
export async function setAsideTooLarge(tx: Tx, event: FactEvent, atMs: number): Promise<void> {
  await setAside(tx, { id: event.id, status: "rejected", code: "too_large" }, event, atMs);
  await tx.delete("outbox", event.id);
}
