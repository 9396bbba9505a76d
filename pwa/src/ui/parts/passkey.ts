/** What the browser does with passkeys, whoever asks for it. */

import { post } from "@/sync/api.ts";

interface Platform {
  parseCreationOptionsFromJSON?(options: unknown): PublicKeyCredentialCreationOptions;
  parseRequestOptionsFromJSON?(options: unknown): PublicKeyCredentialRequestOptions;
}
interface Answer {
  readonly id: string;
  toJSON(): unknown;
}

export const platform = (): Platform => (globalThis as { PublicKeyCredential?: Platform }).PublicKeyCredential ?? {};
export const canPasskeys = (): boolean => platform().parseRequestOptionsFromJSON !== undefined;
export const refused = (): DOMException => new DOMException("none", "NotAllowedError");

/** Have a passkey sign what the server asks at ``path``: the answer for the server, and which passkey it was. */
export async function signed(path: string, headers: HeadersInit = {}): Promise<{ credential: unknown; id: string }> {
  const publicKey = platform().parseRequestOptionsFromJSON?.(await post(path, {}, headers));
  const answer = publicKey === undefined ? null : await navigator.credentials.get({ publicKey });
  if (answer === null) throw refused();
  const { id } = answer;
  return { credential: (answer as unknown as Answer).toJSON(), id };
}
