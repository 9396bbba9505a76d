/** The passkey at the change of hands: asked of the server where it answers, of this phone alone where it does not. */

import type { Holder } from "@/core/held.ts";
import { mustShow, readsBodies, withHolder } from "@/core/holders.ts";
import { holders } from "@/store/held.ts";
import { keepHolders, keepKeys, keysOf } from "@/store/holders.ts";
import { call, post, Problem } from "@/sync/api.ts";
import { inBookOf } from "@/sync/others.ts";
import { canPasskeys, platform, refused } from "@/ui/parts/passkey.ts";

/** "open", or why the book stays closed. */
export type Answered = "open" | "refused" | "offline" | "no_passkey";

const CHALLENGE_BYTES = 32;
const FLAGS_AT = 32;
const ANSWER_WITHIN_MS = 4_000;
/** Somebody touched it, and it looked who. */
const PRESENT_AND_VERIFIED = 0x05;

const bytesOf = (text: string): Uint8Array<ArrayBuffer> => {
  const plain = atob(text.replaceAll("-", "+").replaceAll("_", "/"));
  return Uint8Array.from(plain, (sign) => sign.charCodeAt(0));
};
const textOf = (bytes: Uint8Array): string => btoa(String.fromCharCode(...bytes)).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");

/**
 * Whether an answer is to this challenge, from this page's own address, by one of these passkeys, after it looked who holds
 * it (WebAuthn level 2, 6.1 and 7.2). The signature is the server's to check: this phone keeps no key to check it with.
 */
export async function isShown(answer: PublicKeyCredential, challenge: Uint8Array, keys: readonly string[]): Promise<boolean> {
  const { clientDataJSON, authenticatorData } = answer.response as AuthenticatorAssertionResponse;
  const told = JSON.parse(new TextDecoder().decode(clientDataJSON)) as { type?: unknown; challenge?: unknown; origin?: unknown };
  const data = new Uint8Array(authenticatorData);
  const host = new Uint8Array(await crypto.subtle.digest("SHA-256", new TextEncoder().encode(location.hostname)));
  return keys.includes(answer.id) && told.type === "webauthn.get" && told.challenge === textOf(challenge) && told.origin === location.origin
    && host.every((byte, i) => data[i] === byte) && ((data[FLAGS_AT] ?? 0) & PRESENT_AND_VERIFIED) === PRESENT_AND_VERIFIED;
}

async function byThisPhone(keys: readonly string[]): Promise<Answered> {
  const challenge = crypto.getRandomValues(new Uint8Array(CHALLENGE_BYTES));
  const allowCredentials = keys.map((id) => ({ type: "public-key" as const, id: bytesOf(id) }));
  const publicKey = { challenge, rpId: location.hostname, allowCredentials, userVerification: "required" as const };
  const answer = await navigator.credentials.get({ publicKey });
  return answer instanceof PublicKeyCredential && (await isShown(answer, challenge, keys)) ? "open" : "refused";
}

/** A slow network must not stand between a hand and its phone. */
const inTime = <T>(answer: Promise<T>): Promise<T | null> =>
  Promise.race([answer.catch(() => null), new Promise<null>((resolve) => setTimeout(() => resolve(null), ANSWER_WITHIN_MS))]);

/** Whether the team asks, as the server says now, or as this phone last heard. */
async function withRule(holder: Holder, headers: HeadersInit): Promise<Holder> {
  if (!readsBodies(holder.role)) return holder;
  const reply = await inTime(call("GET", "/api/me/passkeys", null, headers));
  if (reply?.ok !== true) return holder;
  const told = { ...holder, isStepUpAsked: ((await reply.json()) as { is_step_up_asked: boolean }).is_step_up_asked };
  if (holders().some(({ id }) => id === holder.id)) keepHolders(withHolder(holders(), told));
  return told;
}

/** The server's challenge, for the device of this holder; null when the server does not answer, or knows the device no more. */
async function asked(headers: HeadersInit): Promise<PublicKeyCredentialRequestOptions | null> {
  const reply = await inTime(call("POST", "/api/me/verify/options", "{}", headers));
  return reply?.ok === true ? (platform().parseRequestOptionsFromJSON?.(await reply.json()) ?? null) : null;
}

async function byServer(holder: Holder, publicKey: PublicKeyCredentialRequestOptions, headers: HeadersInit): Promise<Answered> {
  const allowed = (publicKey.allowCredentials ?? []).map(({ id }) => textOf(new Uint8Array(id as ArrayBuffer)));
  // Those removed on the server ask for nothing any more.
  const keys = keysOf(holder.memberId).filter((id) => allowed.includes(id));
  keepKeys(holder.memberId, keys);
  if (allowed.length === 0 || (keys.length === 0 && !mustShow(holder))) return mustShow(holder) ? "no_passkey" : "open";
  const answer = await navigator.credentials.get({ publicKey });
  if (!(answer instanceof PublicKeyCredential)) throw refused();
  try {
    await post("/api/me/verify", { credential: answer.toJSON() }, headers);
    keepKeys(holder.memberId, [...keys, answer.id]);
    return "open";
  } catch (problem) {
    const isLost = problem instanceof Problem && (problem.status === 0 || problem.status >= 500);
    return isLost && (await isShown(answer, new Uint8Array(publicKey.challenge as ArrayBuffer), keys)) ? "open" : "refused";
  }
}

/** Let a holder's book be opened, or say why not. Nothing of it is read before. */
export async function gate(holder: Holder): Promise<Answered> {
  const keys = keysOf(holder.memberId);
  if (keys.length === 0 && !readsBodies(holder.role)) return "open";
  try {
    const token = await inBookOf(holder.id, async ({ readMeta }) => (await readMeta("session"))?.token ?? "");
    const headers = { "Content-Type": "application/json", Authorization: `Bearer ${token}` };
    const told = await withRule(holder, headers);
    if (keys.length === 0 && !mustShow(told)) return "open";
    if (!canPasskeys()) return "refused";
    const publicKey = await asked(headers);
    if (publicKey !== null) return await byServer(told, publicKey, headers);
    return keys.length === 0 ? "offline" : await byThisPhone(keys);
  } catch {
    // The platform says no more than that it did not happen.
    return "refused";
  }
}
