/** The store port in memory: one write at a time, all or nothing, and a power switch. */

import type { FactEvent } from "@/protocol/records.ts";
import { SHELVES, type Copies, type Remembered, type ShelfName, type Shelves, type Store, type Tx } from "@/store/ports.ts";

/** The phone was switched off; what had not been committed is gone. */
export class Killed extends Error {}

type Shelf = Map<string, unknown>;
interface Book {
  shelves: Record<ShelfName, Shelf>;
  remembered: Map<string, unknown>;
}

const emptyBook = (): Book => ({
  shelves: Object.fromEntries(SHELVES.map((name) => [name, new Map()])) as Record<ShelfName, Shelf>,
  remembered: new Map(),
});
const copyOf = (book: Book): Book => ({
  shelves: Object.fromEntries(SHELVES.map((name) => [name, new Map(book.shelves[name])])) as Record<ShelfName, Shelf>,
  remembered: new Map(book.remembered),
});
const cloned = <T>(value: T): T => (value === undefined ? value : (JSON.parse(JSON.stringify(value)) as T));

function txOver(book: Book, onRemember: (name: string, value: unknown) => void): Tx {
  const shelf = (name: ShelfName): Shelf => book.shelves[name];
  return {
    get: async <N extends ShelfName>(name: N, id: string) => cloned(shelf(name).get(id)) as Shelves[N] | undefined,
    all: async <N extends ShelfName>(name: N) => [...shelf(name).values()].map(cloned) as Shelves[N][],
    put: async (name, value) => void shelf(name).set(value.id, cloned(value)),
    delete: async (name, id) => void shelf(name).delete(id),
    clear: async (name) => shelf(name).clear(),
    recall: async <K extends keyof Remembered>(name: K) => cloned(book.remembered.get(name)) as Remembered[K] | undefined,
    remember: async (name, value) => {
      book.remembered.set(name, cloned(value));
      onRemember(name, cloned(value));
    },
  };
}

/** When the next write ends the phone: before or after its commit. */
export type Doom = "before" | "after" | null;

export class MemoryStore implements Store {
  private book = emptyBook();
  private queue: Promise<unknown> = Promise.resolve();
  /** Raised by each kill; work begun before it may no longer touch the store. */
  life = 0;
  doom: Doom = null;
  isFull = false;
  /** A fault planted on purpose: the cursor is on the disk before its page. */
  splitsCursor = false;

  private async inTurn<T>(work: () => Promise<T>): Promise<T> {
    const turn = this.queue.then(work);
    this.queue = turn.catch(() => undefined);
    return turn;
  }

  private die(): never {
    this.life += 1;
    this.doom = null;
    throw new Killed();
  }

  write<T>(names: readonly ShelfName[], work: (tx: Tx) => Promise<T>, life = this.life): Promise<T> {
    return this.inTurn(async () => {
      if (life !== this.life) throw new Killed();
      const draft = copyOf(this.book);
      const onRemember = (name: string, value: unknown): void => {
        if (this.splitsCursor && name === "cursor") this.book.remembered.set(name, value);
      };
      const answer = await work(txOver(draft, onRemember));
      if (this.isFull && names.includes("ev") && this.grew(draft)) throw Object.assign(new Error("full"), { name: "QuotaExceededError" });
      if (this.doom === "before") this.die();
      this.book = draft;
      if (this.doom === "after") this.die();
      return answer;
    });
  }

  private grew(draft: Book): boolean {
    const size = (book: Book): number => SHELVES.reduce((n, name) => n + book.shelves[name].size, 0);
    return size(draft) > size(this.book) && size(draft) > 30;
  }

  read<T>(_: readonly ShelfName[], work: (tx: Tx) => Promise<T>, life = this.life): Promise<T> {
    return this.inTurn(() => {
      if (life !== this.life) throw new Killed();
      return work(txOver(copyOf(this.book), () => undefined));
    });
  }

  /** The store as one running app sees it; after a kill it answers that app no more. */
  forThisLife(): Store {
    const { life } = this;
    return { write: (names, work) => this.write(names, work, life), read: (names, work) => this.read(names, work, life) };
  }

  kill(): void {
    this.life += 1;
  }

  evict(): void {
    this.book = emptyBook();
    this.life += 1;
  }

  cloneFrom(other: MemoryStore): void {
    this.book = copyOf(other.book);
  }

  peek<N extends ShelfName>(name: N): Shelves[N][] {
    return [...this.book.shelves[name].values()].map(cloned) as Shelves[N][];
  }

  recalled(name: keyof Remembered): unknown {
    return this.book.remembered.get(name);
  }
}

/** Copies that outlive an evicted store. */
export class MemoryCopies implements Copies {
  private kept = new Map<string, FactEvent>();
  isOff = false;

  add(event: FactEvent): void {
    if (this.isOff) return;
    this.kept.set(event.id, cloned(event));
    for (const id of [...this.kept.keys()].sort().slice(0, -200)) this.kept.delete(id);
  }

  remove(ids: Iterable<string>): void {
    for (const id of ids) this.kept.delete(id);
  }

  all(): FactEvent[] {
    return [...this.kept.values()].map(cloned);
  }
}
