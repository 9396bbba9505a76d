/** The outbox of this phone. */

import type { FactEvent } from "@/protocol/records.ts";
import { bringBack, keepIn, unsentIn, waitingIn, type Unnumbered, type Unsent } from "@/store/facts.ts";
import { journal } from "@/store/journal.ts";
import { onDisk } from "@/store/schema.ts";

export const keep = (made: Unnumbered): Promise<FactEvent> => keepIn(onDisk, journal, made);
export const waiting = (atMost: number): Promise<FactEvent[]> => waitingIn(onDisk, atMost);
export const unsentSummary = (): Promise<Unsent | null> => unsentIn(onDisk);
export const reconcile = (): Promise<number> => bringBack(onDisk, journal);
