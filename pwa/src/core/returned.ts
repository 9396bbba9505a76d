/** A bottle that came back: what a label or a number says it is, and what a scale says is left in it. */

/** Water at 20 °C, and what a gram of sugar per litre adds [kg/L]: 60 g/L of sucrose make 1.021 (CRC Handbook, from memory). */
const WATER_KG_PER_L = 0.998;
const SUGAR_KG_PER_L = 0.00038;

/** Litres left in a bottle from its mass and the empty bottle's [g] and its carbohydrate [g/L]; never below nothing. */
export const leftL = (grossG: number, tareG: number, carbohydrateGPerL = 0): number =>
  Math.max(0, (grossG - tareG) / 1000 / (WATER_KG_PER_L + SUGAR_KG_PER_L * carbohydrateGPerL));

export interface LabelledBottle {
  readonly number: number;
  readonly code: string;
  readonly drink_id: string;
  readonly rider_id?: string | null;
}

/** The part of a scanned text that names a bottle: the last piece of an address, or the whole of it. */
export const codeIn = (scanned: string): string => (scanned.trim().split("/").at(-1) ?? "").toUpperCase();

/** Find a bottle by what was scanned, or by the two-digit number printed beside the code. */
export function bottleOf(bottles: readonly LabelledBottle[], typed: string): LabelledBottle | null {
  const code = codeIn(typed);
  if (code === "") return null;
  const byCode = bottles.find((bottle) => codeIn(bottle.code) === code);
  if (byCode !== undefined) return byCode;
  return /^\d{1,3}$/.test(code) ? (bottles.find((bottle) => bottle.number === Number(code)) ?? null) : null;
}
