/** The exchange on the wire; the twin of server/brinebook/records/wire.py. */

import type { FactEvent } from "@/protocol/records.ts";

export type VerdictStatus = "ok" | "dup" | "conflict" | "rejected" | "erased" | "retry";
export interface Verdict { id: string; status: VerdictStatus; seq?: number; code?: string; field?: string; limit?: string; seal?: string }
export type PulledEvent = [seq: number, event: FactEvent];
export interface Document<T = unknown> { id: string; type: string; subject_id: string; sha: string; body?: T | null }
export type Digest = [count: number, xor64_hex: string];
export interface ExchangeRequest {
  protocol: number;
  device_id: string;
  cursor?: string | null;
  events: FactEvent[];
  limit?: number;
  /** By id, the seal under which the server once took an event of this batch. */
  seals?: Record<string, string>;
}
export interface ExchangeReply {
  protocol: number;
  epoch: string;
  now_ms: number;
  head: number;
  verdicts: Verdict[];
  events: PulledEvent[];
  documents: Document[];
  cursor: string;
  more: boolean;
  reset?: boolean;
  /** Subjects that left this device's scope. */
  drop?: string[];
  digest?: Digest | null;
  /** One for each of `events`: to be handed back with the event if the server ever loses it. */
  seals?: string[];
  /** Only the verdicts count: the rest waits until the person shows who he is. */
  is_held_back?: boolean;
}
