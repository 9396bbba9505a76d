/** One function per command; each adds one fact, and resolves when it is safe on this phone. */

import { uuid7 } from "@/core/ids.ts";
import type {
  AgreedBody, AteBody, BodyByKind, CameBackBody, DeliveredBody, DrankBody, FactEvent, FactKind, HandedUpBody, LinkBody, LostBody,
  MixCheckBody, MorningCheckBody, PouredBody, SheetPrintedBody, StockCountedBody, SweatSampleBody, WeighedBody, WeighedRideBody,
} from "@/protocol/records.ts";
import { tellTabs } from "@/store/load.ts";
import { keep } from "@/store/outbox.ts";
import { addFresh, offsetMs, session, unsent } from "@/store/state.ts";

export interface About {
  readonly stageId?: string | null;
  readonly ref?: string;
  /** An instant other than now: a weighing typed in later. */
  readonly atMs?: number;
}

export class NobodyHere extends Error {}

let afterAppend: () => void = () => undefined;

/** Let the exchange know of each new fact; set once, by the one file that knows all. */
export function onAppend(listener: () => void): void {
  afterAppend = listener;
}

/** Add one fact. The id and the instant are those of the tap, never of a retry. */
export async function append<K extends FactKind>(
  kind: K, subjectId: string, body: BodyByKind[K], about: About = {},
): Promise<FactEvent<BodyByKind[K]>> {
  const who = session.value;
  if (who === null) throw new NobodyHere();
  const atMs = about.atMs ?? Date.now();
  const event = await keep({
    id: uuid7(Date.now(), crypto.getRandomValues(new Uint8Array(10))),
    kind,
    v: 1,
    subject_id: subjectId,
    by: who.member.id,
    device_id: who.deviceId,
    at_ms: atMs,
    ...(offsetMs.value === null ? {} : { offset_ms: offsetMs.value }),
    tz_min: 0 - new Date(atMs).getTimezoneOffset(),
    ...(about.stageId ? { stage_id: about.stageId } : {}),
    ...(about.ref === undefined ? {} : { ref: about.ref }),
    body,
  });
  addFresh(event);
  unsent.value = { count: (unsent.value?.count ?? 0) + 1, oldestAtMs: unsent.value?.oldestAtMs ?? event.at_ms };
  tellTabs();
  afterAppend();
  return event as FactEvent<BodyByKind[K]>;
}

type Made<K extends FactKind> = Promise<FactEvent<BodyByKind[K]>>;
const at = (stageId: string | null): About => ({ stageId });

export const drank = (rider: string, stage: string | null, body: DrankBody): Made<"drank"> => append("drank", rider, body, at(stage));
export const poured = (rider: string, stage: string | null, body: PouredBody): Made<"poured"> => append("poured", rider, body, at(stage));
export const lost = (rider: string, stage: string | null, body: LostBody): Made<"lost"> => append("lost", rider, body, at(stage));
export const ate = (rider: string, stage: string | null, body: AteBody): Made<"ate"> => append("ate", rider, body, at(stage));
export const handedUp = (rider: string, stage: string | null, body: HandedUpBody): Made<"handed_up"> =>
  append("handed_up", rider, body, at(stage));
export const cameBack = (rider: string, stage: string | null, body: CameBackBody): Made<"came_back"> =>
  append("came_back", rider, body, at(stage));
export const weighed = (rider: string, stage: string | null, body: WeighedBody): Made<"weighed"> =>
  append("weighed", rider, body, at(stage));
export const agreed = (rider: string, stage: string | null, body: AgreedBody): Made<"agreed"> => append("agreed", rider, body, at(stage));
export const reopened = (rider: string, stage: string | null, reason: string): Made<"reopened"> =>
  append("reopened", rider, { reason }, at(stage));
export const morningCheck = (rider: string, stage: string | null, body: MorningCheckBody): Made<"morning_check"> =>
  append("morning_check", rider, body, at(stage));
export const sweatSample = (rider: string, body: SweatSampleBody, about: About = {}): Made<"sweat_sample"> =>
  append("sweat_sample", rider, body, about);
export const mixCheck = (team: string, stage: string | null, body: MixCheckBody): Made<"mix_check"> =>
  append("mix_check", team, body, at(stage));
export const stockCounted = (team: string, body: StockCountedBody): Made<"stock_counted"> => append("stock_counted", team, body);
export const delivered = (team: string, body: DeliveredBody): Made<"delivered"> => append("delivered", team, body);
export const sheetPrinted = (team: string, stage: string, body: SheetPrintedBody): Made<"sheet_printed"> =>
  append("sheet_printed", team, body, at(stage));
export const weighedRide = (rider: string, body: WeighedRideBody, about: About = {}): Made<"weighed_ride"> =>
  append("weighed_ride", rider, body, about);
export const note = (rider: string, stage: string | null, text: string): Made<"note"> => append("note", rider, { text }, at(stage));

const naming = (fact: FactEvent): About => ({ stageId: fact.stage_id ?? null, ref: fact.id });

/** Take a fact back: a fact of its own that names it. */
export const takeBack = (fact: FactEvent): Made<"void"> => append("void", fact.subject_id, {}, naming(fact));

/** A rider says that an entry made for him is not his. */
export const contested = (fact: FactEvent, reason = ""): Made<"contested"> =>
  append("contested", fact.subject_id, reason === "" ? {} : { reason }, naming(fact));

/** Two entries are one bottle; the one kept counts. */
export const sameBottle = (keepOne: FactEvent, other: FactEvent): Made<"link"> => {
  const [a, b] = [keepOne.id, other.id].sort() as [string, string];
  const body: LinkBody = { a, b, keep: keepOne.id };
  return append("link", keepOne.subject_id, body, { stageId: keepOne.stage_id ?? null });
};

/** Two entries are two bottles: said once, for all phones, and what takes a link apart. */
export const twoBottles = (one: FactEvent, other: FactEvent): Made<"unlink"> => {
  const [a, b] = [one.id, other.id].sort() as [string, string];
  return append("unlink", one.subject_id, { a, b, keep: one.id }, { stageId: one.stage_id ?? null });
};
