/** What every screen reads: one tree of signals, filled from the store and by the exchange. */

import { computed, signal } from "@preact/signals";

import { fold, type Folded, withFresh } from "@/core/fold.ts";
import type { Document, DocumentType, DocumentTypes, FactEvent, Member, Rider, Stage, Team } from "@/protocol/records.ts";
import type { TrayItem } from "@/store/ports.ts";

export type { TrayItem } from "@/store/ports.ts";

export interface Session {
  readonly member: Member;
  readonly team: Team;
  readonly rider: Rider | null;
  readonly token: string;
  readonly deviceId: string;
  readonly deviceName: string;
  /** When the token was given, by this phone's clock. */
  readonly tokenAtMs?: number;
  /** The token before this one: a server that was put back to an older state knows that one only. */
  readonly tokenBefore?: string;
}

export const session = signal<Session | null>(null);
export const docs = signal<ReadonlyMap<string, Document>>(new Map());
export const events = signal<ReadonlyMap<string, FactEvent>>(new Map());

type Book = ReadonlyMap<string, FactEvent>;
const foldOf = new WeakMap<Book, Folded>();

/** One more fact, made on this phone: a tap does not fold three weeks anew. */
export function addFresh(event: FactEvent): void {
  const before = events.value;
  const grown = new Map(before).set(event.id, event);
  const known = foldOf.get(before);
  const quick = known === undefined ? null : withFresh(known, event);
  if (quick !== null) foldOf.set(grown, quick);
  events.value = grown;
}

function foldedBook(book: Book): Folded {
  const answer = foldOf.get(book) ?? fold(book.values());
  foldOf.set(book, answer);
  return answer;
}

export const folded = computed(() => foldedBook(events.value));
export const unsent = signal<{ readonly count: number; readonly oldestAtMs: number } | null>(null);
export const tray = signal<readonly TrayItem[]>([]);
/** From the last answer of the server; the browser's own notion of being online decides nothing. */
export const link = signal<"linked" | "held" | "passing">("held");
export const lastPassedAtMs = signal<number | null>(null);
/** The server no longer knows this phone's key: entries stay here until it joins again. */
export const isKeyRefused = signal(false);
/** Two stores speak under this phone's key, as after a backup put onto another phone: it is to join again. */
export const isCopied = signal(false);
/** Others' body figures wait on the server until the person shows, by a passkey, who holds this phone. */
export const isHeldBack = signal(false);
/** The phone ran out of room: older facts of others are not on it. */
export const isTrimmed = signal(false);
/** Server minus device [ms], from the quickest reply so far. */
export const offsetMs = signal<number | null>(null);
export const now = signal(Date.now());
export const chosenStageId = signal<string | null>(null);
/** False until the store has been read once. */
export const isReady = signal(false);
export const updateReady = signal(false);

/** The bodies of all documents of one type. */
export function docsOf<K extends DocumentType>(type: K): DocumentTypes[K][] {
  const found: DocumentTypes[K][] = [];
  for (const document of docs.value.values()) {
    if (document.type === type && document.body) found.push(document.body as DocumentTypes[K]);
  }
  return found;
}

/** The body of one document; ids read "type:subject" or "type:subject:stage". */
export function doc<T>(id: string): T | null {
  return (docs.value.get(id)?.body ?? null) as T | null;
}

export const stages = computed<Stage[]>(() => docsOf("stage").sort((a, b) => a.day_index - b.day_index));

const HOUR_MS = 3_600_000;
const isRaced = (stage: Stage): boolean => stage.kind !== "rest";

/** Off the race's clock the book says where the race is: the stage after the last agreed one, or the last noted on. */
function stageByBook(all: readonly Stage[]): Stage | null {
  const noted = new Set<string>();
  const agreed = new Set<string>();
  for (const { kind, stage_id } of folded.value.live.values()) {
    if (stage_id) (kind === "agreed" ? agreed : noted).add(stage_id);
  }
  const last = all.filter((stage) => noted.has(stage.id) || agreed.has(stage.id)).at(-1);
  if (last === undefined) {
    const planned = new Set([...docsOf("stage_plan"), ...docsOf("plan_summary")].map((plan) => plan.stage_id));
    return all.find((stage) => planned.has(stage.id)) ?? null;
  }
  const after = all.find((stage) => stage.day_index > last.day_index && isRaced(stage));
  return agreed.has(last.id) ? (after ?? last) : last;
}

/** The stage on screen: the chosen one, else today's, else where the book stands. */
export const currentStage = computed<Stage | null>(() => {
  const all = stages.value;
  const chosen = all.find((stage) => stage.id === chosenStageId.value);
  if (chosen !== undefined) return chosen;
  const today = all.find((stage) => now.value > stage.start_at_ms - 12 * HOUR_MS && now.value < stage.start_at_ms + 12 * HOUR_MS);
  return today ?? stageByBook(all) ?? all.find(isRaced) ?? null;
});
export const currentStageId = computed(() => currentStage.value?.id ?? null);

/** From an hour before the start until two hours after the expected finish no update is taken. */
export const isInStage = computed(() => stages.value.some((stage) => {
  const hours = stage.scheduled_duration_h ?? 5;
  const from = stage.start_at_ms - HOUR_MS;
  return isRaced(stage) && now.value >= from && now.value <= from + (hours + 3) * HOUR_MS;
}));
