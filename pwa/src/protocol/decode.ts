/** Trust nothing read from the net: the parts of a reply this app acts on are checked by hand. */

import type { Document, ExchangeReply, FactEvent, PulledEvent, Verdict } from "@/protocol/records.ts";

/** 1: the first release. 2: forgets single subjects, by `drop` and by the `erase` event. 3: keeps and hands back seals. */
export const PROTOCOL = 3;

export class UnreadableReply extends Error {
  constructor(readonly field: string) {
    super(`unreadable reply: ${field}`);
  }
}

type Loose = Record<string, unknown>;

const isObject = (value: unknown): value is Loose => typeof value === "object" && value !== null && !Array.isArray(value);

function text(from: Loose, field: string): string {
  const value = from[field];
  if (typeof value !== "string") throw new UnreadableReply(field);
  return value;
}

function whole(from: Loose, field: string): number {
  const value = from[field];
  if (typeof value !== "number" || !Number.isFinite(value)) throw new UnreadableReply(field);
  return value;
}

function list(from: Loose, field: string): unknown[] {
  const value = from[field] ?? [];
  if (!Array.isArray(value)) throw new UnreadableReply(field);
  return value;
}

export function decodeEvent(raw: unknown): FactEvent {
  if (!isObject(raw)) throw new UnreadableReply("event");
  for (const field of ["id", "kind", "subject_id", "by", "device_id"]) text(raw, field);
  for (const field of ["n", "lamport", "at_ms"]) whole(raw, field);
  return (isObject(raw["body"]) ? raw : { ...raw, body: {} }) as unknown as FactEvent;
}

function decodePulled(raw: unknown): PulledEvent {
  if (!Array.isArray(raw) || typeof raw[0] !== "number") throw new UnreadableReply("events");
  return [raw[0], decodeEvent(raw[1])];
}

function decodeVerdict(raw: unknown): Verdict {
  if (!isObject(raw)) throw new UnreadableReply("verdicts");
  text(raw, "id");
  text(raw, "status");
  return raw as unknown as Verdict;
}

function decodeDocument(raw: unknown): Document {
  if (!isObject(raw)) throw new UnreadableReply("documents");
  for (const field of ["id", "type", "subject_id"]) text(raw, field);
  return raw as unknown as Document;
}

/** Check a reply as a whole: nothing of it is applied when any of it is unreadable. */
export function decodeReply(raw: unknown): ExchangeReply {
  if (!isObject(raw)) throw new UnreadableReply("reply");
  const digest = raw["digest"];
  return {
    protocol: whole(raw, "protocol"),
    epoch: text(raw, "epoch"),
    now_ms: whole(raw, "now_ms"),
    head: whole(raw, "head"),
    verdicts: list(raw, "verdicts").map(decodeVerdict),
    events: list(raw, "events").map(decodePulled),
    documents: list(raw, "documents").map(decodeDocument),
    cursor: text(raw, "cursor"),
    more: raw["more"] === true,
    reset: raw["reset"] === true,
    drop: list(raw, "drop").map(String),
    seals: list(raw, "seals").map(String),
    is_held_back: raw["is_held_back"] === true,
    digest: Array.isArray(digest) && digest.length === 2 ? [Number(digest[0]), String(digest[1])] : null,
  };
}
