/** The season: how much heat a rider has had, and whether his last sweat test still speaks of him. */

/** One day with a hot ride; days are whole days since the epoch. */
export const HOT_FROM_C = 28;
const ONSET_DAYS = 4;
const KEPT_PER_DAY_FRAC = 0.975;
const FULL_SHIFT_LOG = -0.35;
const OLD_TEST_DAYS = 60;
const MOVED_SHARE = 0.4;

/**
 * Share of full heat adaptation on a day, from the days of heat before it: onset 4 days, decay 2.5 % a day. Onset and the
 * full shift are planning defaults; the decay is Daanen, Racinais and Periard 2018 (doi:10.1007/s40279-017-0808-x).
 */
export function heatShare(hotDays: readonly number[], onDay: number): number {
  const days = [...new Set(hotDays)].filter((day) => day < onDay).sort((a, b) => a - b);
  let share = 0;
  let last: number | null = null;
  for (const day of days) {
    if (last !== null) share *= KEPT_PER_DAY_FRAC ** (day - last - 1);
    share += (1 - share) * (1 - Math.exp(-1 / ONSET_DAYS));
    last = day;
  }
  return last === null ? 0 : share * KEPT_PER_DAY_FRAC ** Math.max(0, onDay - last - 1);
}

/** How much saltier or more dilute sweat has likely become since a test, as a share. */
export const sodiumShift = (shareThen: number, shareNow: number): number => Math.exp(FULL_SHIFT_LOG * (shareNow - shareThen)) - 1;

export type Retest = "never" | "old" | "heat" | "fresh";

export function retest(testDay: number | null, hotDays: readonly number[], onDay: number): Retest {
  if (testDay === null) return "never";
  if (onDay - testDay > OLD_TEST_DAYS) return "old";
  return Math.abs(heatShare(hotDays, onDay) - heatShare(hotDays, testDay)) >= MOVED_SHARE ? "heat" : "fresh";
}
