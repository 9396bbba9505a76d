/** Which touches are taps. Water reads as touches, smears as many at once; a bike shakes. */

/** "rain" asks the person to look; "rain_hit" does so too, and its entry is kept as doubtful. */
export type TapVerdict = "hit" | "ignored" | "rain" | "rain_hit";

export interface Touch {
  readonly pointerId: number;
  readonly isPrimary: boolean;
  readonly x: number;
  readonly y: number;
  readonly atMs: number;
}

const MOST_TRAVEL_PX = 24;
const SHORTEST_PRESS_MS = 40;
const LONGEST_PRESS_MS = 1500;
const DEAD_MS = 700;
const RAIN_HITS = 3;
const RAIN_HITS_WITHIN_MS = 2000;
const RAIN_SMEARS = 2;
const RAIN_SMEARS_WITHIN_MS = 3000;

interface Press {
  readonly band: string;
  readonly touch: Touch;
}

/** Judges presses one after the other; keeps no more than the last seconds. */
export class TapGuard {
  private press: Press | null = null;
  private down = new Set<number>();
  private isSmeared = false;
  private deadUntilMs = new Map<string, number>();
  private hitsMs: number[] = [];
  private smearsMs: number[] = [];

  /** A finger, or water, comes down. */
  start(band: string, touch: Touch): void {
    this.down.add(touch.pointerId);
    if (this.down.size > 1 || !touch.isPrimary) {
      this.isSmeared = true;
      return;
    }
    this.isSmeared = false;
    this.press = { band, touch };
  }

  /** It goes up over a band, or over none. */
  end(band: string | null, touch: Touch): TapVerdict {
    this.down.delete(touch.pointerId);
    const { press } = this;
    if (this.isSmeared) return this.down.size === 0 ? this.smear(touch.atMs) : "ignored";
    this.press = null;
    if (press === null || press.touch.pointerId !== touch.pointerId || band !== press.band) return "ignored";
    const travelPx = Math.hypot(touch.x - press.touch.x, touch.y - press.touch.y);
    const heldMs = touch.atMs - press.touch.atMs;
    if (travelPx > MOST_TRAVEL_PX || heldMs < SHORTEST_PRESS_MS || heldMs > LONGEST_PRESS_MS) return "ignored";
    return this.hit(band, touch.atMs);
  }

  cancel(pointerId: number): void {
    this.down.delete(pointerId);
    this.press = null;
  }

  /** A hit, also one from a keyboard: counted for the rain, dead for a moment after. */
  hit(band: string, atMs: number): TapVerdict {
    if (atMs < (this.deadUntilMs.get(band) ?? 0)) return "ignored";
    this.deadUntilMs.set(band, atMs + DEAD_MS);
    this.hitsMs = [...this.hitsMs.filter((ms) => atMs - ms <= RAIN_HITS_WITHIN_MS), atMs];
    return this.hitsMs.length >= RAIN_HITS ? "rain_hit" : "hit";
  }

  private smear(atMs: number): TapVerdict {
    this.isSmeared = false;
    this.press = null;
    this.smearsMs = [...this.smearsMs.filter((ms) => atMs - ms <= RAIN_SMEARS_WITHIN_MS), atMs];
    return this.smearsMs.length >= RAIN_SMEARS ? "rain" : "ignored";
  }

  /** The person said that it is no rain. */
  forget(): void {
    this.hitsMs = [];
    this.smearsMs = [];
  }
}
