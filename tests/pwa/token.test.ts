import "fake-indexeddb/auto";
import { beforeEach, describe, expect, it, vi } from "vitest";

import type { ExchangeRequest } from "@/protocol/records.ts";
import { poured } from "@/store/commands.ts";
import { enter } from "@/store/load.ts";
import { reconcile } from "@/store/outbox.ts";
import { readMeta, withDb, writeMeta } from "@/store/schema.ts";
import { isKeyRefused, session, unsent, type Session } from "@/store/state.ts";
import { exchange } from "@/sync/exchange.ts";
import { isDue } from "@/core/keys.ts";
import { renewToken, takeTokenBefore } from "@/sync/token.ts";

const WEEK_MS = 7 * 24 * 3_600_000;
const WHO = {
  member: { id: "m1", version: 1, name: "L. Aalto", role: "rider" as const, rider_id: "r1" },
  team: { id: "t1", version: 1, name: "Halden Vale", race_name: "Three Rivers Tour" },
  rider: { id: "r1", version: 1, name: "Aalto", race_number: 41 }, token: "t0", deviceId: "d1", deviceName: "phone",
};

/** The server's side of a token, as `access/devices.py` has it: the old one ends when the next is first used. */
class Gate {
  good = "t0";
  next: string | null = null;
  nGiven = 0;
  losesAnswer = false;
  readonly kept: string[] = [];

  answer(path: string, token: string, body: string): Response {
    if (token === this.next) { this.good = token; this.next = null; }
    if (token !== this.good) return Response.json({ code: "not_signed_in" }, { status: 401 });
    if (path === "/api/me/token") {
      this.nGiven += 1;
      this.next = `t${this.nGiven}`;
      if (this.losesAnswer) throw new TypeError("cut");
      return Response.json({ token: this.next });
    }
    const { events } = JSON.parse(body) as ExchangeRequest;
    this.kept.push(...events.map(({ id }) => id));
    const verdicts = events.map(({ id }) => ({ id, status: "ok" }));
    return Response.json({ protocol: 3, epoch: "e1", now_ms: Date.now(), head: 0, verdicts, events: [], documents: [], cursor: "c1", more: false });
  }
}

let gate: Gate;
let startMs = 1_800_000_000_000;

beforeEach(async () => {
  gate = new Gate();
  startMs += 10 * WEEK_MS;
  vi.useFakeTimers({ now: startMs, toFake: ["Date"] });
  vi.stubGlobal("fetch", async (path: string, init: { body?: string; headers: Record<string, string> }) =>
    gate.answer(path, (init.headers["Authorization"] ?? "").replace("Bearer ", ""), init.body ?? ""));
  await withDb(async (db) => {
    for (const name of ["ev", "outbox", "authored", "docs", "tray", "meta"] as const) await db.clear(name);
  });
  await reconcile();
  isKeyRefused.value = false;
  await enter(WHO);
});

const later = (ms: number): void => void vi.setSystemTime(Date.now() + ms);
const onDisk = async (): Promise<Session> => (await readMeta("session")) as Session;

describe("the phone's token", () => {
  it("is changed after a week, by itself, and never sooner", async () => {
    await exchange();
    later(WEEK_MS - 1000);
    await exchange();
    expect(gate.nGiven).toBe(0);

    later(1000);
    await exchange();
    expect([gate.nGiven, gate.good, (await onDisk()).token]).toEqual([1, "t0", "t1"]);

    const kept = await poured("r1", null, { volume_l: 0.1 });
    await exchange();
    expect([gate.good, gate.kept, unsent.value]).toEqual(["t1", [kept.id], null]);
    later(WEEK_MS);
    await exchange();
    expect((await onDisk()).token).toBe("t2");
  });

  it("survives lost answers: the old one passes entries on until a new one has arrived", async () => {
    gate.losesAnswer = true;
    for (let n = 0; n < 3; n += 1) {
      later(WEEK_MS);
      await poured("r1", null, { volume_l: 0.1 });
      await exchange();
      expect([(await onDisk()).token, unsent.value, isKeyRefused.value]).toEqual(["t0", null, false]);
    }
    gate.losesAnswer = false;
    later(WEEK_MS);
    await exchange();
    await exchange();
    expect([gate.nGiven, gate.good, session.value?.token]).toEqual([4, "t4", "t4"]);
  });

  it("falls back to the one before when the server was put back to an older state, and moves on from there", async () => {
    later(WEEK_MS);
    await exchange();
    await exchange();
    expect(gate.good).toBe("t1");

    gate.good = "t0";
    const kept = await poured("r1", null, { volume_l: 0.1 });
    await exchange();
    expect([gate.kept.at(-1), isKeyRefused.value, session.value?.token]).toEqual([kept.id, false, "t0"]);
  });

  it("keeps every entry when neither is known any more, and says that it must join again", async () => {
    later(WEEK_MS);
    await exchange();
    await poured("r1", null, { volume_l: 0.1 });
    gate.good = "a thief's";
    gate.next = null;
    await exchange();
    await exchange();
    expect([isKeyRefused.value, unsent.value?.count]).toEqual([true, 1]);
  });

  it("never overwrites who joined here while the answer was on its way", async () => {
    later(WEEK_MS);
    const before = session.value;
    await writeMeta("session", { ...WHO, deviceId: "d2", token: "fresh" });
    await renewToken();
    expect([gate.nGiven, (await onDisk()).token]).toEqual([1, "fresh"]);
    session.value = before === null ? null : { ...before, tokenBefore: "old" };
    expect(await takeTokenBefore()).toBe(false);
  });

  it("is due again when the clock was put back, and asked for once an hour at most", async () => {
    expect(isDue({ ...WHO, tokenAtMs: 1000 }, 999)).toBe(true);
    expect(isDue(WHO, Date.now())).toBe(true);
    gate.losesAnswer = true;
    later(WEEK_MS);
    for (let n = 0; n < 5; n += 1) await exchange();
    expect(gate.nGiven).toBe(1);
    later(3_600_000);
    await exchange();
    expect(gate.nGiven).toBe(2);
  });
});
