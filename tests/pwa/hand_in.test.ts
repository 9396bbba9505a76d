import "fake-indexeddb/auto";
import { beforeEach, describe, expect, it, vi } from "vitest";

import type { ExchangeRequest } from "@/protocol/records.ts";
import { drank } from "@/store/commands.ts";
import { enter } from "@/store/load.ts";
import { waiting } from "@/store/outbox.ts";
import { close, withDb } from "@/store/schema.ts";
import { handIn } from "@/sync/hand_in.ts";

const WHO = {
  member: { id: "m1", name: "L. Aalto", role: "rider" as const, rider_id: "r1" },
  team: { id: "t1", name: "Halden Vale", race_name: "Three Rivers Tour" },
  rider: { id: "r1", name: "Aalto", race_number: 41 }, token: "secret", deviceId: "d1", deviceName: "phone",
};
let requests: (ExchangeRequest & { auth: string })[] = [];
let status = 200;

beforeEach(() => {
  requests = [];
  status = 200;
  vi.stubGlobal("fetch", async (_: string, init: { body: string; headers: Record<string, string> }) => {
    requests.push({ ...(JSON.parse(init.body) as ExchangeRequest), auth: init.headers["Authorization"] ?? "" });
    return Response.json({}, { status });
  });
});

const tap = () => drank("r1", "s1", { volume_l: 0.25, how: "level" });

describe("the worker", () => {
  it("makes no store where there is none", async () => {
    expect(await handIn()).toBe(0);
    expect((await indexedDB.databases()).map(({ name }) => name)).toEqual([]);
  });

  it("hands in what waits under this phone's key, in order, and leaves it waiting for its verdicts", async () => {
    await enter(WHO);
    const made = [];
    for (let i = 0; i < 120; i += 1) made.push((await tap()).id);
    expect(await handIn()).toBe(120);
    expect(requests.map(({ events }) => events.length)).toEqual([100, 20]);
    expect(requests.flatMap(({ events }) => events.map(({ id }) => id))).toEqual(made);
    expect(requests[0]).toMatchObject({ auth: "Bearer secret", device_id: "d1", limit: 0 });
    expect((await waiting(500)).map(({ id }) => id)).toEqual(made);
  });

  it("leaves to the page what goes a second time, under a seal", async () => {
    const [first] = await waiting(1);
    if (first === undefined) throw new Error("nothing waits");
    await withDb((db) => db.put("authored", { id: first.id, event: first, passedAtMs: 1, seal: "s", isHeld: true }));
    expect(await handIn()).toBe(119);
    expect(requests.flatMap(({ events }) => events.map(({ id }) => id))).not.toContain(first.id);
    await withDb((db) => db.delete("authored", first.id));
  });

  it("asks to be tried again when the server fails, not when it refuses", async () => {
    status = 503;
    await expect(handIn()).rejects.toThrow("503");
    status = 401;
    expect(await handIn()).toBe(0);
    expect(await waiting(500)).toHaveLength(120);
  });

  it("keeps no page from upgrading the store", async () => {
    await handIn();
    await close();
    await withDb((db) => db.clear("outbox"));
    requests = [];
    expect(await handIn()).toBe(0);
    expect(requests).toEqual([]);
  });
});
