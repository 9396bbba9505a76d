/** Buckets, scoops and what they make of a batch: the twin of the engine's recipe. */

import type { PrepSheet, SheetBottle, SheetMix, SheetPlace } from "@/protocol/records.ts";

const SAME_VOLUME_L = 1e-9;
/** Where whole scoops would be off by more, the scale is asked for. */
export const WEIGH_ABOVE_FRAC = 0.1;

/** Full buckets and one that is not; together exactly the volume. */
export function bucketsL(volumeL: number, bucketL: number): number[] {
  const nFull = Math.floor((volumeL + SAME_VOLUME_L) / bucketL);
  const restL = volumeL - nFull * bucketL;
  return [...Array.from({ length: nFull }, () => bucketL), ...(restL > SAME_VOLUME_L ? [restL] : [])];
}

export interface Dose {
  readonly massG: number;
  /** Null where there is no scoop. */
  readonly nScoops: number | null;
  readonly errorFrac: number;
}

export function dose(gPerL: number, volumeL: number, scoopG: number | null): Dose {
  const massG = gPerL * volumeL;
  if (scoopG === null || massG <= 0) return { massG, nScoops: null, errorFrac: 0 };
  const nScoops = Math.floor(massG / scoopG + 0.5);
  return { massG, nScoops, errorFrac: (nScoops * scoopG) / massG - 1 };
}

export interface Fill {
  readonly volumeL: number;
  readonly n: number;
  readonly waterL: number;
  readonly doses: readonly Dose[];
  /** Sodium of the batch when scoops are used wherever they are offered [mg/L]. */
  readonly scoopedMgPerL: number;
}

export const isToWeigh = (one: Dose): boolean => one.nScoops === null || Math.abs(one.errorFrac) > WEIGH_ABOVE_FRAC;

/** One mix by one bucket: equal fills counted together, the fullest first. */
export function fillsOf(mix: SheetMix, bucketL: number): Fill[] {
  const counts = new Map<number, number>();
  for (const volumeL of bucketsL(mix.volume_l, bucketL)) counts.set(volumeL, (counts.get(volumeL) ?? 0) + 1);
  const portions = mix.portions ?? [];
  return [...counts].map(([volumeL, n]) => {
    const doses = portions.map((portion) => dose(portion.g_per_l, volumeL, portion.scoop_g ?? null));
    const sodiumMg = doses.reduce((sum, one, i) => sum + (portions[i]?.sodium_mg_per_g ?? 0) * one.massG * (isToWeigh(one) ? 1 : 1 + one.errorFrac), 0);
    return { volumeL, n, waterL: volumeL * mix.water_frac, doses, scoopedMgPerL: sodiumMg / volumeL };
  });
}

/** A code's dark modules, row by row from the top left. */
export function modulesOf(qrHex: string, sideN: number): boolean[][] {
  const bits = [...qrHex].map((sign) => Number.parseInt(sign, 16).toString(2).padStart(4, "0")).join("").slice(-(sideN * sideN));
  return Array.from({ length: sideN }, (_, row) => Array.from({ length: sideN }, (_, column) => bits[row * sideN + column] === "1"));
}

/** The dark modules as one path, four modules of quiet zone around them. */
export function codePath(qrHex: string, sideN: number): string {
  return modulesOf(qrHex, sideN)
    .flatMap((row, y) => row.flatMap((isDark, x) => (isDark ? [`M${x + 4} ${y + 4}h1v1h-1z`] : [])))
    .join("");
}

export interface PlacedBottle {
  readonly bottle: SheetBottle;
  readonly place: SheetPlace;
}
export const bottlesOf = (sheet: PrepSheet): PlacedBottle[] =>
  sheet.places.flatMap((place) => place.bottles.map((bottle) => ({ bottle, place })));

export const numberOf = (n: number): string => String(n).padStart(2, "0");
