/** Passkeys in this browser: the platform makes and uses them, the server says for what. */

import type { Member, Rider, Team } from "@/protocol/records.ts";
import { enter } from "@/store/load.ts";
import { isHeldBack } from "@/store/state.ts";
import { call, post, Problem } from "@/sync/api.ts";
import { exchange } from "@/sync/exchange.ts";
import { spoken, t } from "@/ui/words.ts";

interface Platform {
  parseCreationOptionsFromJSON?(options: unknown): PublicKeyCredentialCreationOptions;
  parseRequestOptionsFromJSON?(options: unknown): PublicKeyCredentialRequestOptions;
}
interface Answer { toJSON(): unknown }
interface Joined { token: string; member: Member; team: Team; rider: Rider | null; device_id: string }

const platform = (): Platform => (globalThis as { PublicKeyCredential?: Platform }).PublicKeyCredential ?? {};
export const canPasskeys = (): boolean => platform().parseRequestOptionsFromJSON !== undefined;

/** Why it did not work, in a sentence; what the platform refuses (a tap on "cancel", no lock on the phone) is told as one. */
export function whyNot(problem: unknown): string {
  if (!(problem instanceof Problem)) return t("passkey.cancelled");
  if (problem.status === 0) return t("passkey.offline");
  return spoken(`problem.${problem.code}`, { limit: problem.limit }) ?? problem.detail;
}

async function signed(path: string): Promise<unknown> {
  const publicKey = platform().parseRequestOptionsFromJSON?.(await post(path));
  const answer = publicKey === undefined ? null : await navigator.credentials.get({ publicKey });
  if (answer === null) throw new DOMException("none", "NotAllowedError");
  return (answer as unknown as Answer).toJSON();
}

/** Make a passkey for the person who is signed in here. */
export async function makePasskey(name: string): Promise<void> {
  const publicKey = platform().parseCreationOptionsFromJSON?.(await post("/api/me/passkeys/options"));
  const made = publicKey === undefined ? null : await navigator.credentials.create({ publicKey });
  if (made === null) throw new DOMException("none", "NotAllowedError");
  await post("/api/me/passkeys", { credential: (made as unknown as Answer).toJSON(), name });
}

/** Show who holds this phone; what waited on the server then comes. */
export async function showWhoIAm(): Promise<void> {
  await post("/api/me/verify", { credential: await signed("/api/me/verify/options") });
  isHeldBack.value = false;
  await exchange();
}

/** Sign in here by a passkey made elsewhere. */
export async function signInByPasskey(deviceName: string): Promise<void> {
  const credential = await signed("/api/passkeys/options");
  const told = await post<Joined>("/api/passkeys/sign-in", { credential, device_name: deviceName });
  await enter({
    token: told.token, member: told.member, team: told.team, rider: told.rider ?? null, deviceId: told.device_id, deviceName,
  });
}

/** Forget one's own passkey on the server; the platform keeps its half until it is removed there. */
export async function forgetPasskey(id: string): Promise<void> {
  const reply = await call("DELETE", `/api/me/passkeys/${encodeURIComponent(id)}`);
  if (!reply.ok) throw new Problem(reply.status, (await reply.json().catch(() => ({}))) as Record<string, unknown>);
}
