/** A further person comes to live on this phone: with a device, a book and an outbox of his own. */

import type { Holder } from "@/core/held.ts";
import { samePerson, withHolder } from "@/core/holders.ts";
import type { Member, Rider, Team } from "@/protocol/records.ts";
import { holders, presentId, startAnew } from "@/store/held.ts";
import { keepHolders, take } from "@/store/holders.ts";
import { enter, enterIn } from "@/store/load.ts";
import { isKeyRefused, session, type Session } from "@/store/state.ts";
import { post } from "@/sync/api.ts";
import { inBookOf } from "@/sync/others.ts";
import { rememberRole } from "@/ui/early.ts";

export interface Joined {
  token: string;
  member: Member;
  team: Team;
  rider: Rider | null;
  device_id: string;
}
type Claim = { readonly secret: string } | { readonly code: string };

const COMING = "brinebook.coming";
const KEPT = "brinebook-kept";
const SHARED_FILE = "/kept/shared";
const ID_BYTES = 5;
const KEY_BYTES = 16;

/** The book to come, and a random name of its device: the same until somebody is in, so that a join whose reply was lost can be asked again. */
function coming(): { readonly id: string; readonly key: string } {
  const known = localStorage.getItem(COMING) ?? "";
  if (known.length === 2 * (ID_BYTES + KEY_BYTES)) return { id: known.slice(0, 2 * ID_BYTES), key: known.slice(2 * ID_BYTES) };
  const bytes = crypto.getRandomValues(new Uint8Array(ID_BYTES + KEY_BYTES));
  localStorage.setItem(COMING, [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join(""));
  return coming();
}

export const holderOf = (id: string, { member, team }: Pick<Session, "member" | "team">): Omit<Holder, "edge"> => ({
  id, teamId: team.id, memberId: member.id, name: member.name, role: member.role, isStepUpAsked: team.is_step_up_asked === true,
});

/** Hand the phone to a holder: the page begins anew, with his book and nothing else in memory. */
export async function handTo({ id, role }: Pick<Holder, "id" | "role">): Promise<void> {
  rememberRole(role);
  take(id, Date.now());
  // The count on the icon, and a file somebody sent to the app, were the last one's.
  await (navigator as { clearAppBadge?: () => Promise<void> }).clearAppBadge?.().catch(() => undefined);
  await caches?.open(KEPT).then((kept) => kept.delete(SHARED_FILE)).catch(() => undefined);
  startAnew();
}

/** Give somebody the server knows his place here: the one he has already, or a new one. True: it is the page that is open. */
async function settleIn(joined: Joined, deviceName: string): Promise<boolean> {
  const { token, member, team, rider, device_id: deviceId } = joined;
  const who: Session = { token, member, team, rider: rider ?? null, deviceId, deviceName };
  const before = session.value;
  const person = { teamId: team.id, memberId: member.id };
  if (before !== null && samePerson(person, { teamId: before.team.id, memberId: before.member.id })) {
    await enter(who);
    isKeyRefused.value = false;
    if (holders().length > 0) keepHolders(withHolder(holders(), holderOf(presentId, who)));
    return true;
  }
  const living = holders().length > 0 || before === null ? holders() : withHolder([], holderOf(presentId, before));
  const id = living.find((one) => samePerson(one, person))?.id ?? coming().id;
  await inBookOf(id, (book) => enterIn(book, who));
  keepHolders(withHolder(living, holderOf(id, who)));
  localStorage.removeItem(COMING);
  await handTo({ id, role: member.role });
  return false;
}

/** Claim an invitation for a place on this phone. Rejects with the server's ``Problem``; a rider's stays good. */
export async function comeInBy(claim: Claim, deviceName: string): Promise<boolean> {
  const joined = await post<Joined>("/api/join", { ...claim, device_name: deviceName, device_key: coming().key, is_shared: true });
  return settleIn(joined, deviceName);
}

/** The same for somebody who signed in by a passkey. */
export const comeInAs = (joined: Joined, deviceName: string): Promise<boolean> => settleIn(joined, deviceName);
