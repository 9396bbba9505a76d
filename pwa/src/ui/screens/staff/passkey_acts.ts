/** Passkeys in this browser: the platform makes and uses them, the server says for what. */

import type { Member, Rider, Team } from "@/protocol/records.ts";
import { keepKeys, keysOf } from "@/store/holders.ts";
import { isHeldBack, session } from "@/store/state.ts";
import { call, post, Problem } from "@/sync/api.ts";
import { exchange } from "@/sync/exchange.ts";
import { platform, refused, signed } from "@/ui/parts/passkey.ts";
import { spoken, t } from "@/ui/words.ts";

export { canPasskeys } from "@/ui/parts/passkey.ts";

export interface Joined { token: string; member: Member; team: Team; rider: Rider | null; device_id: string }

/** Why it did not work, in a sentence; what the platform refuses (a tap on "cancel", no lock on the phone) is told as one. */
export function whyNot(problem: unknown): string {
  if (!(problem instanceof Problem)) return t("passkey.cancelled");
  if (problem.status === 0) return t("passkey.offline");
  return spoken(`problem.${problem.code}`, { limit: problem.limit }) ?? problem.detail;
}

/** A shared phone asks its holder for the passkeys that are known to work in this browser. */
const remember = (memberId: string | undefined, id: string): void => {
  if (memberId !== undefined) keepKeys(memberId, [...keysOf(memberId), id]);
};

/** Make a passkey for the person who is signed in here. */
export async function makePasskey(name: string): Promise<void> {
  const publicKey = platform().parseCreationOptionsFromJSON?.(await post("/api/me/passkeys/options"));
  const made = publicKey === undefined ? null : await navigator.credentials.create({ publicKey });
  if (made === null) throw refused();
  await post("/api/me/passkeys", { credential: (made as unknown as { toJSON(): unknown }).toJSON(), name });
  remember(session.value?.member.id, made.id);
}

/** Show who holds this phone; what waited on the server then comes. */
export async function showWhoIAm(): Promise<void> {
  const { credential, id } = await signed("/api/me/verify/options");
  await post("/api/me/verify", { credential });
  remember(session.value?.member.id, id);
  isHeldBack.value = false;
  await exchange();
}

/** Sign in by a passkey made elsewhere: who it is, for ``enter`` or for a place of his own on a shared phone. */
export async function signInByPasskey(deviceName: string): Promise<Joined> {
  const { credential, id } = await signed("/api/passkeys/options");
  const told = await post<Joined>("/api/passkeys/sign-in", { credential, device_name: deviceName });
  remember(told.member.id, id);
  return told;
}

/** Forget one's own passkey on the server; the platform keeps its half until it is removed there. */
export async function forgetPasskey(id: string): Promise<void> {
  const reply = await call("DELETE", `/api/me/passkeys/${encodeURIComponent(id)}`);
  const mine = session.value?.member.id;
  if (reply.ok && mine !== undefined) keepKeys(mine, keysOf(mine).filter((one) => one !== id));
  if (!reply.ok) throw new Problem(reply.status, (await reply.json().catch(() => ({}))) as Record<string, unknown>);
}
