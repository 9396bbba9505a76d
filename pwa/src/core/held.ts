/** Who holds a phone that several members of staff share: how that is written down, and when it is asked anew. */

import type { Role } from "@/protocol/records.ts";

const BOOK = "brinebook";

/** One person living on this phone. His book, outbox and device are his own; nothing of a body stands here. */
export interface Holder {
  /** Names his book; "" is the phone's first one. */
  readonly id: string;
  readonly teamId: string;
  readonly memberId: string;
  readonly name: string;
  readonly role: Role;
  /** Which coloured edge is his, 1 to ``EDGES``. */
  readonly edge: number;
  /** The team asks those who read others' bodies for their passkey. */
  readonly isStepUpAsked: boolean;
  /** The server no longer knows this device. */
  readonly isOut?: boolean;
}

/** Who took the phone, and on which day by its own clock. */
export interface Held {
  readonly id: string;
  readonly day: string;
}

export const bookName = (id: string): string => (id === "" ? BOOK : `${BOOK}.${id}`);

/** The calendar day by this phone's own clock: "2026-11-26". */
export function dayOf(atMs: number): string {
  const at = new Date(atMs);
  return [at.getFullYear(), at.getMonth() + 1, at.getDate()].map((part) => String(part).padStart(2, "0")).join("-");
}

/**
 * Whether the phone has to ask who holds it. A phone nobody shares never asks; one that two share asks every day; the last
 * one left of a shared phone is asked once, so that signing one person out never opens another's book.
 */
export function mustAsk(holders: readonly Holder[], held: Held | null, day: string): boolean {
  if (holders.length === 0) return false;
  if (!holders.some(({ id }) => id === held?.id)) return true;
  return holders.length > 1 && held?.day !== day;
}
