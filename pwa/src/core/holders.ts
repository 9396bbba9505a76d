/** The people who share a phone, as it writes them down. */

import type { Holder } from "@/core/held.ts";
import type { Role } from "@/protocol/records.ts";

export const EDGES = 6;
const BODY_READERS: ReadonlySet<Role> = new Set(["physiologist", "doctor", "admin"]);
export const readsBodies = (role: Role): boolean => BODY_READERS.has(role);

/** Whether a holder's book stays closed until he showed a passkey, even where this phone knows none of his. */
export const mustShow = ({ role, isStepUpAsked }: Holder): boolean => isStepUpAsked && readsBodies(role);

/** The first edge nobody has; with more people than edges they repeat, and the words tell them apart. */
export function freeEdge(holders: readonly Holder[]): number {
  for (let edge = 1; edge <= EDGES; edge += 1) if (!holders.some((one) => one.edge === edge)) return edge;
  return 1 + (holders.length % EDGES);
}

export const samePerson = (one: { teamId: string; memberId: string }, other: { teamId: string; memberId: string }): boolean =>
  one.teamId === other.teamId && one.memberId === other.memberId;

/** Add a person, or bring what is known of him up to date; his edge and his book stay. */
export function withHolder(holders: readonly Holder[], added: Omit<Holder, "edge">): Holder[] {
  const known = holders.find((one) => one.id === added.id);
  if (known === undefined) return [...holders, { ...added, edge: freeEdge(holders) }];
  return holders.map((one) => (one.id === added.id ? { ...added, edge: one.edge } : one));
}
