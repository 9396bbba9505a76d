/** The phone's token changes now and then: the next one is on the disk before it is used, and the last one stays beside it. */

import { isDue, withBefore, withNext } from "@/core/keys.ts";
import { tellTabs } from "@/store/load.ts";
import { withDb } from "@/store/schema.ts";
import { session, type Session } from "@/store/state.ts";

const ASK_AGAIN_MS = 3_600_000;
const ANSWER_WITHIN_MS = 45_000;
let askedAtMs = -Infinity;

/** Change the session on the disk, unless somebody joined here or another tab changed it meanwhile. */
async function keep(before: Session, after: Session): Promise<boolean> {
  const isKept = await withDb(async (db) => {
    const tx = db.transaction("meta", "readwrite", { durability: "strict" });
    const known = (await tx.store.get("session")) as Session | null | undefined;
    const isSame = known?.deviceId === before.deviceId && known.token === before.token;
    if (isSame) await tx.store.put(after, "session");
    await tx.done;
    return isSame;
  });
  if (!isKept) return false;
  session.value = after;
  tellTabs();
  return true;
}

/** Ask for the next token when it is due. Whatever goes wrong, the present one stays good: the server ends it only once the next is used. */
export async function renewToken(nowMs = Date.now()): Promise<void> {
  const who = session.value;
  if (who === null || !isDue(who, nowMs) || Math.abs(nowMs - askedAtMs) < ASK_AGAIN_MS) return;
  askedAtMs = nowMs;
  try {
    const reply = await fetch("/api/me/token", {
      method: "POST", cache: "no-store", credentials: "omit", signal: AbortSignal.timeout(ANSWER_WITHIN_MS),
      headers: { Authorization: `Bearer ${who.token}` },
    });
    const { token } = (await reply.json()) as { token?: unknown };
    if (reply.ok && typeof token === "string" && token !== "") await keep(who, withNext(who, token, nowMs));
  } catch {
    // A lost answer or a full disk: the same is asked again within hours.
  }
}

/** The server does not know the token: one put back to an older state knows the one before. False when there is none. */
export async function takeTokenBefore(): Promise<boolean> {
  const who = session.value;
  const before = who === null ? null : withBefore(who);
  return who !== null && before !== null && keep(who, before);
}
