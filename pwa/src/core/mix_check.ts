/** How strong a batch really is, from what was weighed or read: the twin of the engine's mix check. */

import { sodiumMg } from "@/core/units.ts";

const SUGAR_VOLUME_L_PER_KG = 0.62;
const NACL_LIMIT = 126.45;
const ONSAGER_SLOPE = 60.2 + 0.229 * NACL_LIMIT;
const NACL_NEXT_TERM = 88;
const CONDUCTIVITY_PER_K = 0.02;
const REFERENCE_C = 25;
const SCALE_SD_G = 1;
const WATER_SD_FRAC = 0.015;
const METER_SD_FRAC = 0.03;
const BARE_METER_SD_FRAC = 0.25;
const REFRACTOMETER_SD = 0.2;
const REFRACTOMETER_SD_FRAC = 0.04;
const UNSEEN_SALT_SD_FRAC = 0.2;

export interface Made {
  readonly mgPerL: number;
  readonly sdMgPerL: number;
}
export interface WeighedIn {
  readonly massG: number;
  readonly sodiumMgPerG: number;
  readonly carbohydrateGPerG: number;
}

const squares = (...values: number[]): number => Math.sqrt(values.reduce((sum, one) => sum + one * one, 0));

export function weighedBatch(supplies: readonly WeighedIn[], waterL: number): Made {
  const sugarKg = supplies.reduce((sum, one) => sum + one.carbohydrateGPerG * one.massG, 0) / 1000;
  const volumeL = waterL + SUGAR_VOLUME_L_PER_KG * sugarKg;
  const sodium = supplies.reduce((sum, one) => sum + one.massG * one.sodiumMgPerG, 0);
  const scale = squares(...supplies.map((one) => SCALE_SD_G * one.sodiumMgPerG));
  return { mgPerL: sodium / volumeL, sdMgPerL: squares(scale, WATER_SD_FRAC * sodium) / volumeL };
}

function sodiumChlorideMsPerCm(mmolPerL: number): number {
  const molPerL = mmolPerL / 1000;
  return (NACL_LIMIT - ONSAGER_SLOPE * Math.sqrt(molPerL) + NACL_NEXT_TERM * molPerL) * molPerL;
}

function sodiumAtMmolPerL(msPerCm: number): number {
  let [low, high] = [0, 100];
  for (let i = 0; i < 50; i += 1) {
    const middle = (low + high) / 2;
    if (sodiumChlorideMsPerCm(middle) < msPerCm) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

export function conductingBatch(msPerCm: number, temperatureC: number, labelMgPerL: number, referenceMsPerCm: number | null): Made {
  const read = msPerCm / (1 + CONDUCTIVITY_PER_K * (temperatureC - REFERENCE_C));
  const plain = sodiumMg(sodiumAtMmolPerL(read));
  if (referenceMsPerCm === null) return { mgPerL: plain, sdMgPerL: BARE_METER_SD_FRAC * plain };
  const made = (labelMgPerL * plain) / sodiumMg(sodiumAtMmolPerL(referenceMsPerCm));
  return { mgPerL: made, sdMgPerL: METER_SD_FRAC * made };
}

const solidsGPerL = (degrees: number): number => (1000 * degrees) / (100 - degrees * (1 - SUGAR_VOLUME_L_PER_KG));

export interface Recipe {
  readonly powderGPerL: number;
  readonly powderMgPerL: number;
  /** Sodium of salts spooned in beside the powder, which a refractometer does not see. */
  readonly unseenMgPerL: number;
}

export function refractingBatch(degrees: number, { powderGPerL, powderMgPerL, unseenMgPerL }: Recipe): Made {
  const ratio = solidsGPerL(degrees) / powderGPerL;
  const seen = powderMgPerL * squares(solidsGPerL(REFRACTOMETER_SD) / powderGPerL, REFRACTOMETER_SD_FRAC * ratio);
  return { mgPerL: powderMgPerL * ratio + unseenMgPerL, sdMgPerL: squares(seen, UNSEEN_SALT_SD_FRAC * unseenMgPerL) };
}

export type MixVerdict = "right" | "unsure" | "too_weak" | "too_strong";
const TOLERATED_FRAC = 0.1;
const SURE_SD_N = 1.64;

/** What the plans will make of it: within a tenth the label counts; a reading too rough to tell asks for a better one. */
export function mixVerdict(made: Made, labelMgPerL: number): MixVerdict {
  const gap = Math.abs(made.mgPerL - labelMgPerL);
  if (gap <= TOLERATED_FRAC * labelMgPerL) return "right";
  if (gap <= SURE_SD_N * made.sdMgPerL) return "unsure";
  return made.mgPerL < labelMgPerL ? "too_weak" : "too_strong";
}
