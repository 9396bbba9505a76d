/** A phone's token and the one before it: when it is changed, and what it falls back to. The same for app and simulation. */

export interface Keys {
  readonly token: string;
  /** The last one; a server put back to an older state may know it alone. */
  readonly tokenBefore?: string;
  readonly tokenAtMs?: number;
}

const EVERY_MS = 7 * 24 * 3_600_000;

/** Due after a week; a clock put back makes it due at once. */
export function isDue({ tokenAtMs = 0 }: Keys, nowMs: number): boolean {
  return nowMs < tokenAtMs || nowMs - tokenAtMs >= EVERY_MS;
}

/** With the next token: it is kept before it is used, and the present one stays beside it. */
export function withNext<T extends Keys>(who: T, token: string, nowMs: number): T {
  return { ...who, token, tokenBefore: who.token, tokenAtMs: nowMs };
}

/** With the token before; null when there is none. Twice is as it was. */
export function withBefore<T extends Keys>(who: T): T | null {
  return who.tokenBefore === undefined ? null : { ...who, token: who.tokenBefore, tokenBefore: who.token };
}
