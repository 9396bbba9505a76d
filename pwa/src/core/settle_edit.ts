/** A cell of the Settle table typed over: the facts to add and to take back, so that the sum becomes what was typed. */

import { stampOrder } from "@/core/fold.ts";
import type { FieldRule } from "@/core/sweat_day.ts";
import type {
  BodyByKind, CameBackBody, DrankBody, Drink, FactEvent, HandedUpBody, PouredBody, StagePlan, WeighedBody,
} from "@/protocol/records.ts";

export const RAW_COLUMNS = ["before", "after", "food", "void", "up", "back", "poured", "lost", "noted"] as const;
export type RawColumn = (typeof RAW_COLUMNS)[number];
export type EditColumn = RawColumn | "agreed";

const litres = (name: string, high: number): FieldRule => ({ name, unit: "L", low: 0, high });
export const CELL_RULES: Readonly<Record<EditColumn, FieldRule>> = {
  before: { name: "mass_before_kg", unit: "kg", low: 30, high: 150 },
  after: { name: "mass_after_kg", unit: "kg", low: 30, high: 150 },
  food: { name: "food_kg", unit: "kg", low: 0, high: 10 },
  void: litres("urine_l", 5),
  up: litres("handed_up_l", 20),
  back: litres("came_back_l", 20),
  poured: litres("poured_l", 20),
  lost: litres("lost_l", 20),
  noted: litres("noted_drunk_l", 20),
  agreed: litres("drunk_l", 20),
};

const KIND_OF = { up: "handed_up", back: "came_back", poured: "poured", lost: "lost", noted: "drank" } as const;
type VolumeColumn = keyof typeof KIND_OF;

export type NewFact = { [K in keyof BodyByKind]: { kind: K; body: BodyByKind[K] } }[keyof BodyByKind];

export interface Edit {
  add: readonly NewFact[];
  takeBack: readonly FactEvent[];
}

export type EditRefusal = "no_after" | "no_drink";

const TOLERANCE = 1e-6;

/** The volume one fact adds to its column [L]. */
export function volumeOf(event: FactEvent): number {
  switch (event.kind) {
    case "handed_up": return ((event.body as HandedUpBody).n_bottles ?? 1) * (event.body as HandedUpBody).volume_l;
    case "came_back": return (event.body as CameBackBody).left_l;
    case "poured": case "lost": return (event.body as PouredBody).volume_l;
    case "drank": return (event.body as DrankBody).volume_l;
    default: return 0;
  }
}

/** The facts behind one cell, oldest first. */
export function factsOfCell(events: readonly FactEvent[], column: EditColumn): FactEvent[] {
  const isOf = (event: FactEvent): boolean => {
    if (column === "agreed") return event.kind === "agreed" || event.kind === "reopened";
    if (column === "before") return event.kind === "weighed" && (event.body as WeighedBody).moment === "before";
    if (column === "after" || column === "food" || column === "void") {
      return event.kind === "weighed" && (event.body as WeighedBody).moment === "after";
    }
    return event.kind === KIND_OF[column];
  };
  return events.filter(isOf).sort(stampOrder);
}

/** What to add and to take back for a typed total. `events` are one rider's live facts of the stage. */
export function editFor(
  column: RawColumn, typed: number, events: readonly FactEvent[], drink: Drink | null,
): Edit | EditRefusal {
  if (column === "before") return { add: [{ kind: "weighed", body: { moment: "before", mass_kg: typed } }], takeBack: [] };
  if (column === "after" || column === "food" || column === "void") return afterEdit(column, typed, events);
  return volumeEdit(column, typed, factsOfCell(events, column), drink);
}

function afterEdit(column: "after" | "food" | "void", typed: number, events: readonly FactEvent[]): Edit | EditRefusal {
  const last = factsOfCell(events, "after").at(-1)?.body as WeighedBody | undefined;
  if (last === undefined && column !== "after") return "no_after";
  const body: WeighedBody = {
    ...(last ?? { moment: "after" }), moment: "after", mass_kg: column === "after" ? typed : (last?.mass_kg ?? typed),
    ...(column === "food" ? { food_kg: typed } : {}), ...(column === "void" ? { urine_l: typed } : {}),
  };
  return { add: [{ kind: "weighed", body }], takeBack: [] };
}

function volumeEdit(column: VolumeColumn, typed: number, facts: readonly FactEvent[], drink: Drink | null): Edit | EditRefusal {
  let sum = facts.reduce((total, event) => total + volumeOf(event), 0);
  const takeBack: FactEvent[] = [];
  for (const event of [...facts].reverse()) {
    if (sum <= typed + TOLERANCE) break;
    takeBack.push(event);
    sum -= volumeOf(event);
  }
  const missing = typed - sum;
  if (missing <= TOLERANCE) return { add: [], takeBack };
  if (column !== "up") return { add: [factOf(column, tidy(missing))], takeBack };
  return drink === null ? "no_drink" : { add: handedUp(missing, drink), takeBack };
}

function factOf(column: Exclude<VolumeColumn, "up">, volumeL: number): NewFact {
  switch (column) {
    case "back": return { kind: "came_back", body: { left_l: volumeL, how: "counted" } };
    case "noted": return { kind: "drank", body: { volume_l: volumeL, how: "count" } };
    case "poured": return { kind: "poured", body: { volume_l: volumeL } };
    case "lost": return { kind: "lost", body: { volume_l: volumeL } };
  }
}

const MOST_BOTTLES = 12;

/** Whole bottles first, and what is left as one part-filled bottle. */
function handedUp(volumeL: number, drink: Drink): NewFact[] {
  const bottleL = drink.bottle_l ?? 0.5;
  const found: NewFact[] = [];
  let whole = Math.floor(volumeL / bottleL + TOLERANCE);
  const rest = tidy(volumeL - whole * bottleL);
  for (; whole > 0; whole -= MOST_BOTTLES) {
    found.push({ kind: "handed_up", body: { drink_id: drink.id, volume_l: bottleL, n_bottles: Math.min(whole, MOST_BOTTLES) } });
  }
  if (rest > 0.005) found.push({ kind: "handed_up", body: { drink_id: drink.id, volume_l: rest } });
  return found;
}

const tidy = (value: number): number => Math.round(value * 1000) / 1000;

/** The drink most handed up to this rider on the stage, else the plan's first, else the first of the book. */
export function likelyDrink(events: readonly FactEvent[], plan: StagePlan | null, drinks: readonly Drink[]): Drink | null {
  const counts = new Map<string, number>();
  for (const event of events) {
    if (event.kind !== "handed_up") continue;
    const body = event.body as HandedUpBody;
    counts.set(body.drink_id, (counts.get(body.drink_id) ?? 0) + (body.n_bottles ?? 1));
  }
  const most = [...counts].sort((a, b) => b[1] - a[1])[0]?.[0];
  const planned = plan?.steps.flatMap((step) => Object.keys(step.bottles))[0];
  return drinks.find((drink) => drink.id === (most ?? planned)) ?? drinks[0] ?? null;
}
