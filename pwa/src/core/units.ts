/** Conversions at the glass; the twin of the engine's units. */

const SODIUM_G_PER_MOL = 22.98977;
const ML_PER_US_FL_OZ = 29.5735;
const KG_PER_LB = 0.45359237;
const KM_PER_MILE = 1.609344;

export const sodiumMg = (mmol: number): number => mmol * SODIUM_G_PER_MOL;
export const sodiumMmol = (mg: number): number => mg / SODIUM_G_PER_MOL;
export const litresFromUsFlOz = (flOz: number): number => (flOz * ML_PER_US_FL_OZ) / 1000;
export const usFlOzFromLitres = (litres: number): number => (litres * 1000) / ML_PER_US_FL_OZ;
export const kgFromLb = (lb: number): number => lb * KG_PER_LB;
export const lbFromKg = (kg: number): number => kg / KG_PER_LB;
export const kmFromMiles = (miles: number): number => miles * KM_PER_MILE;
export const milesFromKm = (km: number): number => km / KM_PER_MILE;
