/** The team's own bottle account: what was loaded must be somewhere. Bottles are often nobody's until they are drunk. */

import { stampOrder } from "@/core/fold.ts";
import type { SettleRow } from "@/core/settle.ts";
import type { FactEvent, TeamCountBody } from "@/protocol/records.ts";

export type CountKind = TeamCountBody["what"];
export const COUNT_KINDS = ["loaded", "left_over", "came_back", "lost"] as const satisfies readonly CountKind[];

/** The last count of each kind and place, added up over the places [L and bottles]; null where nobody counted. */
export interface TeamAccount {
  counted: Readonly<Record<CountKind, { volumeL: number; nBottles: number } | null>>;
  handedUpL: number;
  riderBackL: number;
  riderGoneL: number;
  agreedL: number;
  nAgreed: number;
  /** Loaded less left over: what left the cars by the team's count [L]. */
  leftCarsL: number | null;
  /** Left the cars, but is in no rider's handed up [L]. */
  notHandedL: number | null;
  /** Handed up less all that came back, was poured, lost and agreed as drunk, once every rider is settled [L]. */
  unexplainedL: number | null;
}

export function teamAccount(events: Iterable<FactEvent>, teamId: string, stageId: string, rows: readonly SettleRow[]): TeamAccount {
  const last = new Map<string, TeamCountBody>();
  const counts = [...events].filter((e) => e.kind === "team_count" && e.subject_id === teamId && e.stage_id === stageId);
  for (const event of counts.sort(stampOrder)) {
    const body = event.body as TeamCountBody;
    last.set(`${body.what} ${body.place ?? ""}`, body);
  }
  const counted = { loaded: null, left_over: null, came_back: null, lost: null } as Record<CountKind, { volumeL: number; nBottles: number } | null>;
  for (const body of last.values()) {
    const known = counted[body.what] ?? { volumeL: 0, nBottles: 0 };
    counted[body.what] = { volumeL: known.volumeL + body.volume_l, nBottles: known.nBottles + body.n_bottles };
  }
  return { counted, ...sums(counted, rows) };
}

function sums(counted: TeamAccount["counted"], rows: readonly SettleRow[]): Omit<TeamAccount, "counted"> {
  const sum = (of: (row: SettleRow) => number | null): number => rows.reduce((total, row) => total + (of(row) ?? 0), 0);
  const handedUpL = sum((row) => row.up.value);
  const riderBackL = sum((row) => row.back.value);
  const riderGoneL = sum((row) => (row.poured.value ?? 0) + (row.lost.value ?? 0));
  const agreedL = sum((row) => row.agreedL);
  const nAgreed = rows.filter((row) => row.agreedL !== null).length;
  const leftCarsL = counted.loaded === null ? null : counted.loaded.volumeL - (counted.left_over?.volumeL ?? 0);
  const isAll = nAgreed === rows.length && rows.length > 0 && handedUpL > 0;
  const crateL = (counted.came_back?.volumeL ?? 0) + (counted.lost?.volumeL ?? 0);
  return {
    handedUpL, riderBackL, riderGoneL, agreedL, nAgreed, leftCarsL,
    notHandedL: leftCarsL === null ? null : leftCarsL - handedUpL,
    unexplainedL: isAll ? handedUpL - riderBackL - riderGoneL - crateL - agreedL : null,
  };
}

/** Share litres that came back in a crate over the riders, by what was handed up to each [L]; the parts add up. */
export function sharedOut(volumeL: number, rows: readonly SettleRow[]): { riderId: string; volumeL: number }[] {
  const open = rows.filter((row) => row.agreedL === null && (row.derivedL ?? 0) > 0);
  const all = open.reduce((total, row) => total + (row.derivedL ?? 0), 0);
  if (all <= 0) return [];
  const parts = open.map((row) => ({ riderId: row.riderId, volumeL: Math.round((volumeL * 1000 * (row.derivedL ?? 0)) / all) / 1000 }));
  const rest = volumeL - parts.reduce((total, part) => total + part.volumeL, 0);
  return parts.map((part, i) => (i === 0 ? { ...part, volumeL: Math.round((part.volumeL + rest) * 1000) / 1000 } : part))
    .filter((part) => part.volumeL > 0);
}
