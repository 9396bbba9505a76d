/** The phone changes hands: by a tap, by a new day, or in another window. */

import { effect } from "@preact/signals";

import { deleteDB } from "idb";

import type { Holder } from "@/core/held.ts";
import { mustShow, withHolder } from "@/core/holders.ts";
import { askedBy, held, holders, isAsked, isEmpty, presentBook, presentId, startAnew } from "@/store/held.ts";
import { keepHolders, keepKeys, keysOf, strikeOut, take } from "@/store/holders.ts";
import { leave } from "@/store/load.ts";
import { present } from "@/store/schema.ts";
import { now, session } from "@/store/state.ts";
import { get } from "@/sync/api.ts";
import { startPassingOthers } from "@/sync/others.ts";
import { handTo, holderOf } from "@/ui/screens/hold/come_in.ts";
import { languageFor } from "@/ui/choices.ts";
import { groupsOf, moreGroups } from "@/ui/setup.ts";
import { gate, type Answered } from "@/ui/screens/hold/gate.ts";
import { forgetHalfTyped, keepHalfTyped, watchTyping } from "@/ui/screens/hold/half_typed.ts";

const GONE_WITHIN_MS = 1000;

export const presentHolder = (): Holder | undefined => holders().find(({ id }) => id === presentId);
/** Asked by a tap, and the day is the same: whoever had the phone may keep it without a word. */
export const mayKeep = (): boolean => !isEmpty && !askedBy(Date.now());
export const asksForKey = (holder: Holder): boolean => keysOf(holder.memberId).length > 0 || mustShow(holder);

/** Ask who holds the phone; what was being typed stays, out of sight. */
export async function ask(): Promise<void> {
  if (isAsked.value) return;
  isAsked.value = true;
  await keepHalfTyped().catch(() => undefined);
}

async function goOn(): Promise<void> {
  isAsked.value = false;
  await forgetHalfTyped();
}

/** Somebody says that he holds the phone. Resolves with why not, when his book stays closed. */
export async function choose(holder: Holder): Promise<Answered> {
  const isHere = holder.id === presentId && !isEmpty && held()?.id === holder.id;
  if (isHere && mayKeep()) {
    await goOn();
    return "open";
  }
  const answered = await gate(holder);
  if (answered !== "open") return answered;
  if (!isHere) await handTo(holder);
  else {
    take(holder.id, Date.now());
    await goOn();
  }
  return "open";
}

interface Own {
  readonly passkeys: readonly { readonly id: string }[];
  readonly is_step_up_asked: boolean;
}

/** Bring up to date what is written down of the present holder, when the server can be asked. */
async function learn(): Promise<void> {
  const who = session.value;
  if (who === null) return;
  const own = await get<Own>("/api/me/passkeys");
  if (presentHolder() === undefined) return;
  keepHolders(withHolder(holders(), { ...holderOf(presentId, who), isStepUpAsked: own.is_step_up_asked }));
  keepKeys(who.member.id, keysOf(who.member.id).filter((id) => own.passkeys.some((one) => one.id === id)));
}

/** Sign the present holder out: his emptied book goes too, the others' stay closed until somebody is chosen. */
export async function leaveShared(onLeaving: () => unknown, isLettingGo: boolean): Promise<boolean> {
  const memberId = session.value?.member.id ?? "";
  if (!(await leave(onLeaving, isLettingGo))) return false;
  await present.close();
  // A frozen tab may hold it for ever; it is empty.
  if (presentId !== "") await Promise.race([deleteDB(presentBook), new Promise((resolve) => setTimeout(resolve, GONE_WITHIN_MS))]);
  keepKeys(memberId, []);
  strikeOut(presentId);
  startAnew();
  return true;
}

/** What all who live here need without a network, whoever told the worker last. */
function groupsOfAll(): string[] {
  return ["hold", ...holders().flatMap(({ role, memberId }) => groupsOf(role, languageFor(memberId)))];
}

/** Begin to look after the hands; only a phone that is shared ever loads this. */
export function watchHands(): void {
  startPassingOthers();
  moreGroups.value = groupsOfAll();
  if (isEmpty) return;
  void watchTyping().catch(() => undefined);
  void learn().catch(() => undefined);
  effect(() => { if (askedBy(now.value)) void ask(); });
}

