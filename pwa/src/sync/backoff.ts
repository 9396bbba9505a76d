/** How long to leave the server alone after failures: doubled each time, drawn at random up to that, at most 5 min. */

const FIRST_MS = 2_000;
const LONGEST_MS = 300_000;

let nFailures = 0;
let notBeforeMs = 0;

/** The longest wait after so many failures in a row. */
export function ceilingMs(failures: number): number {
  return failures <= 0 ? 0 : Math.min(LONGEST_MS, FIRST_MS * 2 ** Math.min(failures - 1, 20));
}

/** Full jitter, so that forty phones do not come back together; a wait the server names is kept whole. */
export function waitMs(failures: number, random: number, retryAfterS: number | null): number {
  const jitter = random * ceilingMs(failures);
  return retryAfterS === null ? jitter : retryAfterS * 1000 + Math.min(jitter, FIRST_MS);
}

export function failed(retryAfterS: number | null): void {
  nFailures += 1;
  notBeforeMs = Date.now() + waitMs(nFailures, Math.random(), retryAfterS);
}

export function succeeded(): void {
  nFailures = 0;
  notBeforeMs = 0;
}

/** Whether a timer may try; a person, or the network coming back, may always. */
export function mayTry(nowMs: number): boolean {
  return nowMs >= notBeforeMs;
}
