import "fake-indexeddb/auto";
import { beforeEach, describe, expect, it, vi } from "vitest";

import type { ExchangeReply, FactEvent } from "@/protocol/records.ts";
import { bringBack, keepIn, unsentIn, waitingIn } from "@/store/facts.ts";
import { journal } from "@/store/journal.ts";
import { readOffset, start } from "@/store/load.ts";
import type { Net, Ports, Store } from "@/store/ports.ts";
import { close, onDisk, readMeta, withDb, writeMeta } from "@/store/schema.ts";
import { offsetMs } from "@/store/state.ts";
import { newPace, pass } from "@/sync/pass.ts";
import { hash64 } from "./sim/model_server.ts";

const shelf = new Map<string, string>();
const FULL = () => Object.assign(new Error("full"), { name: "QuotaExceededError" });
let nIds = 0;
const made = (atMs = 1000) => ({
  id: `0190a000-0000-7000-8000-${String((nIds += 1)).padStart(12, "0")}`, kind: "drank", subject_id: "r1", by: "m1", device_id: "d1", at_ms: atMs,
  body: { volume_l: 0.25 },
});
const pulled = (n: number): FactEvent => ({ ...made(n), by: "m2", device_id: "d2", n, lamport: n });

beforeEach(async () => {
  shelf.clear();
  vi.stubGlobal("localStorage", {
    get length() { return shelf.size; }, key: (i: number) => [...shelf.keys()][i] ?? null,
    getItem: (key: string) => shelf.get(key) ?? null, setItem: (key: string, value: string) => void shelf.set(key, value),
    removeItem: (key: string) => void shelf.delete(key),
  });
  await withDb(async (db) => {
    for (const name of db.objectStoreNames) await db.clear(name);
  });
});

/** The real store, failing as told when it writes. */
function failing(problems: (Error | null)[]): Store {
  return {
    read: onDisk.read,
    write: (names, work) => {
      const problem = problems.shift() ?? null;
      return problem === null ? onDisk.write(names, work) : Promise.reject(problem);
    },
  };
}

function ports(net: Net["exchange"], store: Store = onDisk): Ports {
  return {
    store, copies: journal, clock: { nowMs: () => 5000 }, random: { bytes: (n) => new Uint8Array(n), fraction: () => 0.5 },
    net: { exchange: net }, hash: async (id) => hash64(id),
  };
}

const reply = (more: Partial<ExchangeReply>): ExchangeReply => ({
  protocol: 1, epoch: "e1", now_ms: 6000, head: 1, verdicts: [], events: [], documents: [], cursor: "c1", more: false, ...more,
});

describe("a full phone", () => {
  it("gives up old pulled facts, then notes the new one; the outbox and the newest stay", async () => {
    const first = await keepIn(onDisk, journal, made());
    await onDisk.write(["ev"], async (tx) => {
      for (let n = 1; n <= 250; n += 1) {
        const event = pulled(n);
        await tx.put("ev", { id: event.id, event, hash: hash64(event.id) });
      }
    });

    const second = await keepIn(failing([FULL()]), journal, made());

    const left = await withDb((db) => db.getAll("ev"));
    expect((await waitingIn(onDisk, 9)).map(({ id }) => id)).toEqual([first.id, second.id]);
    expect(left.filter(({ hash }) => hash !== undefined)).toHaveLength(200);
    expect(Math.min(...left.filter(({ hash }) => hash !== undefined).map(({ event }) => event.at_ms))).toBe(51);
    expect(await readMeta("is_pruned")).toBe(true);
  });

  it("says that a fact was not noted when there is still no room, and never brings it back", async () => {
    await expect(keepIn(failing([FULL(), null, FULL()]), journal, made())).rejects.toThrow("full");

    expect(await bringBack(onDisk, journal)).toBe(0);
    expect(await unsentIn(onDisk)).toBeNull();
  });

  it("takes the verdicts of a page it has no room for, and asks for the page again", async () => {
    const { id } = await keepIn(onDisk, journal, made());
    const page = reply({ verdicts: [{ id, status: "ok", seq: 1 }], events: [[1, pulled(1)]] });

    const report = await pass(ports(async () => page, failing([FULL(), null, FULL()])), newPace(), "d1");

    expect((report.problem as Error).name).toBe("QuotaExceededError");
    expect(await unsentIn(onDisk)).toBeNull();
    expect(await readMeta("cursor")).toBeUndefined();
  });

  it("does not mistake what it gave up for a server that disagrees, and fetches it again when there is room", async () => {
    await writeMeta("is_pruned", true);
    const asked: (string | null | undefined)[] = [];
    await pass(ports(async ({ cursor }) => { asked.push(cursor); return reply({ digest: [7, "00"] }); }), newPace(), "d1");
    expect(asked).toEqual([null]);

    vi.stubGlobal("navigator", { storage: { estimate: async () => ({ quota: 90_000_000, usage: 1 }) } });
    await start();
    vi.unstubAllGlobals();
    expect(await readMeta("next_cursor")).toBeNull();
  });
});

describe("the copies beside the database", () => {
  it("are the newest two hundred", async () => {
    const all: FactEvent[] = [];
    for (let n = 0; n < 203; n += 1) all.push(await keepIn(onDisk, journal, made()));
    expect(journal.all().map(({ id }) => id)).toEqual(all.slice(3).map(({ id }) => id));
  });

  it("go when the fact they copy was passed on before a crash, and stay while it waits", async () => {
    const [passed, held] = [await keepIn(onDisk, journal, made()), await keepIn(onDisk, journal, made())];
    await onDisk.write(["outbox", "authored"], async (tx) => {
      await tx.put("authored", { id: passed.id, event: passed, passedAtMs: 1 });
      await tx.delete("outbox", passed.id);
    });
    expect(await bringBack(onDisk, journal)).toBe(0);
    expect(journal.all().map(({ id }) => id)).toEqual([held.id]);
  });

  it("keep the counter going when the database is lost", async () => {
    for (let n = 0; n < 3; n += 1) await keepIn(onDisk, journal, made());
    await withDb(async (db) => {
      for (const name of db.objectStoreNames) await db.clear(name);
    });
    expect(await bringBack(onDisk, journal)).toBe(3);
    expect((await keepIn(onDisk, journal, made())).n).toBe(4);
  });
});

describe("the database", () => {
  it("gives one tap one number, though its first answer was lost", async () => {
    const tap = made();
    const one = await keepIn(onDisk, journal, tap);
    expect(await keepIn(onDisk, journal, tap)).toEqual(one);
    expect(await readMeta("counter")).toBe(1);
  });

  it("is opened again when the platform lost it, and a write is whole or absent", async () => {
    const lost = Object.assign(new DOMException("Connection to Indexed Database server lost", "UnknownError"));
    let n = 0;
    await withDb(async (db) => {
      n += 1;
      if (n < 3) throw lost;
      return db.count("ev");
    });
    expect(n).toBe(3);
    await expect(onDisk.write(["ev", "outbox"], async (tx) => {
      await tx.put("ev", { id: "x", event: pulled(1) });
      throw new Error("switched off");
    })).rejects.toThrow("switched off");
    expect(await withDb((db) => db.get("ev", "x"))).toBeUndefined();
  });

  it("lets a newer page upgrade it", async () => {
    await withDb((db) => db.count("ev"));
    await close();
    expect(await withDb((db) => db.count("outbox"))).toBe(0);
  });
});

describe("two tabs", () => {
  it("cannot move the cursor back: the slower reply counts for its verdicts only", async () => {
    const { id } = await keepIn(onDisk, journal, made());
    let isNested = false;
    const net: Net["exchange"] = async (request) => {
      if (!isNested) {
        isNested = true;
        await pass(ports(async () => reply({ cursor: "c2", events: [[1, pulled(1)], [2, pulled(2)]] })), newPace(), "d1");
        return reply({ cursor: "c1", verdicts: [{ id, status: "ok", seq: 1 }], reset: true });
      }
      return reply({ cursor: request.cursor ?? "none" });
    };
    await pass(ports(net), newPace(), "d1");

    expect(await readMeta("cursor")).toBe("c2");
    expect(await withDb((db) => db.count("ev"))).toBe(3);
    expect(await unsentIn(onDisk)).toBeNull();
  });
});

describe("the clocks' difference", () => {
  it("is kept over a restart, and not believed when it is old or from the future", async () => {
    await pass(ports(async () => reply({})), newPace(), "d1");
    expect((await readMeta("offset"))?.ms).toBe(1000);
    const day = 24 * 3_600_000;
    for (const [ageMs, expected] of [[day, 42], [8 * day, null], [-day, null]] as const) {
      await writeMeta("offset", { ms: 42, roundTripMs: 5, atMs: Date.now() - ageMs });
      await readOffset();
      expect(offsetMs.value).toBe(expected);
    }
  });
});

describe("a refetch", () => {
  it("leaves the old book in sight until the new one is whole", async () => {
    const stale = pulled(1);
    await onDisk.write(["ev"], (tx) => tx.put("ev", { id: stale.id, event: stale, hash: hash64(stale.id) }));
    const fresh = [pulled(2), pulled(3)];
    const xor = fresh.reduce((sum, { id }) => sum ^ BigInt(`0x${hash64(id)}`), 0n).toString(16);
    const seen: number[] = [];
    const net: Net["exchange"] = async ({ cursor }) => {
      seen.push((await withDb((db) => db.getAllKeys("ev"))).includes(stale.id) ? 1 : 0);
      if (cursor === "half") return reply({ events: [[2, fresh[1] as FactEvent]], cursor: "whole", digest: [2, xor] });
      if (seen.length === 1) return reply({ digest: [2, xor], cursor: "c1" });
      return reply({ events: [[1, fresh[0] as FactEvent]], cursor: "half", more: true, reset: true });
    };
    await writeMeta("cursor", "c0");
    await pass(ports(net), newPace(), "d1");

    expect(seen).toEqual([1, 1, 1]);
    expect((await withDb((db) => db.getAllKeys("ev"))).sort()).toEqual(fresh.map(({ id }) => id).sort());
    expect(await readMeta("cursor")).toBe("whole");
    expect(await withDb((db) => db.count("ev_next"))).toBe(0);
  });
});
