/** Local storage as a phone has it. */
export class Shelf {
  readonly held = new Map<string, string>();
  get length(): number { return this.held.size; }
  key(i: number): string | null { return [...this.held.keys()][i] ?? null; }
  getItem(key: string): string | null { return this.held.get(key) ?? null; }
  setItem(key: string, value: string): void { this.held.set(key, value); }
  removeItem(key: string): void { this.held.delete(key); }
}
