/** Chance from one seed. */

export class Chance {
  private state: number;

  constructor(seed: number) {
    this.state = seed | 0;
  }

  /** At least 0, below 1 (mulberry32). */
  fraction(): number {
    this.state = (this.state + 0x6d2b79f5) | 0;
    let mixed = Math.imul(this.state ^ (this.state >>> 15), 1 | this.state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
  }

  below(n: number): number {
    return Math.floor(this.fraction() * n);
  }

  is(probability: number): boolean {
    return this.fraction() < probability;
  }

  pick<T>(list: readonly T[]): T {
    return list[this.below(list.length)] as T;
  }

  bytes(n: number): Uint8Array {
    return Uint8Array.from({ length: n }, () => this.below(256));
  }
}
