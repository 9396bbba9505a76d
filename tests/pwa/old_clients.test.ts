import "fake-indexeddb/auto";
import { readdirSync, readFileSync } from "node:fs";
import { beforeAll, describe, expect, it, vi } from "vitest";

import type { ExchangeRequest, FactEvent } from "@/protocol/records.ts";
import { start } from "@/store/load.ts";
import { waiting } from "@/store/outbox.ts";
import { close, withDb } from "@/store/schema.ts";
import { events, folded, session, tray, unsent } from "@/store/state.ts";
import { exchange } from "@/sync/exchange.ts";

/** What a released app left on a phone; each release adds one, none is ever changed. */
interface Dump {
  database: string;
  version: number;
  key_paths: Record<string, string | null>;
  stores: Record<string, unknown[] | Record<string, unknown>>;
  local_storage: Record<string, string>;
}

const FOLDER = new URL("./golden/", import.meta.url);
const NAMES = readdirSync(FOLDER).filter((name) => name.startsWith("client_"));
const read = (name: string): Dump => JSON.parse(readFileSync(new URL(name, FOLDER), "utf8")) as Dump;

function deleted(name: string): Promise<void> {
  return new Promise((resolve) => {
    const request = indexedDB.deleteDatabase(name);
    request.onsuccess = () => resolve();
  });
}

/** Make the database as the old app made it, without any of today's code. */
function restored(dump: Dump): Promise<void> {
  return new Promise((resolve, reject) => {
    const opening = indexedDB.open(dump.database, dump.version);
    opening.onupgradeneeded = () => {
      for (const [name, keyPath] of Object.entries(dump.key_paths)) {
        const store = opening.result.createObjectStore(name, keyPath === null ? undefined : { keyPath });
        const rows = dump.stores[name] ?? [];
        if (Array.isArray(rows)) for (const row of rows) store.put(row);
        else for (const [key, value] of Object.entries(rows)) store.put(value, key);
      }
    };
    opening.onsuccess = () => {
      opening.result.close();
      resolve();
    };
    opening.onerror = () => reject(opening.error);
  });
}

describe.each(NAMES)("the phone of %s", (name) => {
  const dump = read(name);
  const outbox = dump.stores["outbox"] as FactEvent[];
  const shelf = new Map(Object.entries(dump.local_storage));
  const requests: ExchangeRequest[] = [];

  beforeAll(async () => {
    await close();
    await deleted(dump.database);
    await restored(dump);
    vi.stubGlobal("localStorage", {
      get length() { return shelf.size; }, key: (i: number) => [...shelf.keys()][i] ?? null,
      getItem: (key: string) => shelf.get(key) ?? null, setItem: (key: string, value: string) => void shelf.set(key, value),
      removeItem: (key: string) => void shelf.delete(key),
    });
    vi.stubGlobal("fetch", async (_: string, init: { body: string }) => {
      const request = JSON.parse(init.body) as ExchangeRequest;
      requests.push(request);
      const verdicts = request.events.map(({ id }, i) => ({ id, status: "ok", seq: 100 + i }));
      return Response.json({
        protocol: 1, epoch: "e1", now_ms: Date.now(), head: 100, verdicts, events: [], documents: [], cursor: "later", more: false,
      });
    });
    await start();
  });

  it("opens with everything it held", () => {
    expect(session.value?.member.id).toBe("m1");
    expect([...events.value.keys()].sort()).toEqual((dump.stores["ev"] as { id: string }[]).map(({ id }) => id).sort());
    expect(unsent.value?.count).toBe(outbox.length);
    expect(tray.value).toHaveLength((dump.stores["tray"] as unknown[]).length);
  });

  it("folds to what the old app showed", () => {
    const volumes = [...folded.value.live.values()].map(({ body }) => (body as { volume_l: number }).volume_l).sort();
    expect(volumes).toEqual([0.125, 0.5, 0.5]);
  });

  it("pushes what it held, byte for byte, from where it had read", async () => {
    await exchange();
    const [first] = requests;
    expect(first?.cursor).toBe((dump.stores["meta"] as Record<string, unknown>)["cursor"]);
    expect(first?.events).toEqual([...outbox].sort((a, b) => a.n - b.n));
    expect(await waiting(9)).toEqual([]);
    expect(await withDb((db) => db.count("authored"))).toBe((dump.stores["authored"] as unknown[]).length + outbox.length);
  });
});
