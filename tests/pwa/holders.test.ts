import "fake-indexeddb/auto";
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";

import { bookName, dayOf, mustAsk, type Holder } from "@/core/held.ts";
import { EDGES, freeEdge, mustShow, withHolder } from "@/core/holders.ts";
import type { ExchangeRequest, FactEvent } from "@/protocol/records.ts";
import { journalOf } from "@/store/journal.ts";
import { bringBack, keepIn, waitingIn } from "@/store/facts.ts";
import { enterIn } from "@/store/load.ts";
import { bookNamed } from "@/store/schema.ts";
import { handIn } from "@/sync/hand_in.ts";

import { Shelf } from "./shelf.ts";

const MINUTE_MS = 60_000;
const holder = (id: string, over: Partial<Holder> = {}): Holder =>
  ({ id, teamId: "t1", memberId: `m${id}`, name: `Name ${id}`, role: "soigneur", edge: 1, isStepUpAsked: false, ...over });
const TWO = [holder(""), holder("b")];

describe("who holds the phone", () => {
  it("is never asked where nobody shares", () => expect(mustAsk([], null, "2026-11-26")).toBe(false));

  it("is asked until somebody said so, and again each day", () => {
    expect(mustAsk(TWO, null, "2026-11-26")).toBe(true);
    expect(mustAsk(TWO, { id: "b", day: "2026-11-26" }, "2026-11-26")).toBe(false);
    expect(mustAsk(TWO, { id: "b", day: "2026-11-26" }, "2026-11-27")).toBe(true);
  });

  it("is asked when the clock was put back, too", () => expect(mustAsk(TWO, { id: "", day: "2026-11-27" }, "2026-11-26")).toBe(true));

  it("is asked once of the last one left, so that signing out opens nobody else's book", () => {
    expect(mustAsk([holder("b")], null, "2026-11-26")).toBe(true);
    expect(mustAsk([holder("b")], { id: "", day: "2026-11-26" }, "2026-11-26")).toBe(true);
    expect(mustAsk([holder("b")], { id: "b", day: "2026-11-20" }, "2026-11-26")).toBe(false);
  });

  it("changes at midnight by the phone's own clock", () => {
    const midnightMs = new Date(2026, 10, 27).getTime();
    expect([midnightMs - 1, midnightMs].map(dayOf)).toEqual(["2026-11-26", "2026-11-27"]);
    expect(dayOf(midnightMs + 24 * 60 * MINUTE_MS - 1)).toBe("2026-11-27");
  });
});

describe("what is written down of people", () => {
  it("gives each an edge nobody else has, as long as there are edges", () => {
    const all = Array.from({ length: EDGES }, (_, i) => `${i}`).reduce<Holder[]>((known, id) => withHolder(known, holder(id)), []);
    expect(new Set(all.map(({ edge }) => edge)).size).toBe(EDGES);
    expect(freeEdge(all.filter(({ edge }) => edge !== 3))).toBe(3);
    expect(withHolder(all, holder("more")).at(-1)?.edge).toBeLessThanOrEqual(EDGES);
  });

  it("keeps an edge when a role changes", () => {
    const [, second] = withHolder(withHolder([], holder("")), holder("b"));
    expect(withHolder(TWO, holder("b", { role: "doctor" }))[1]).toMatchObject({ role: "doctor", edge: TWO[1]?.edge });
    expect(second?.edge).toBe(2);
  });

  it("closes the books of those who read others' bodies where the team asks for it", () => {
    const closed = (["soigneur", "car", "coach", "physiologist", "doctor", "admin"] as const).filter((role) => mustShow(holder("", { role, isStepUpAsked: true })));
    expect(closed).toEqual(["physiologist", "doctor", "admin"]);
    expect(mustShow(holder("", { role: "doctor" }))).toBe(false);
  });
});

const FACT = {
  kind: "handed_up", v: 1, subject_id: "r1", at_ms: 1_800_000_000_000, tz_min: 0, stage_id: "s1", body: { item_id: "d", n: 1 },
} as const;
const made = (id: string, by: string) => ({ ...FACT, id, by, device_id: `d-${by}` }) as unknown as FactEvent;

describe("two outboxes on one phone", () => {
  let requests: (ExchangeRequest & { auth: string })[] = [];
  const books = { ida: bookNamed(bookName("")), boris: bookNamed(bookName("b")) };
  const who = (name: string) => ({
    member: { id: name, version: 1, name, role: "soigneur" as const, rider_id: null }, team: { id: "t1", version: 1, name: "Halden Vale", race_name: "Tour" },
    rider: null, token: `token-${name}`, deviceId: `d-${name}`, deviceName: "phone",
  });

  beforeEach(() => {
    requests = [];
    vi.stubGlobal("localStorage", new Shelf());
    vi.stubGlobal("fetch", async (_: string, init: { body: string; headers: Record<string, string> }) => {
      requests.push({ ...(JSON.parse(init.body) as ExchangeRequest), auth: init.headers["Authorization"] ?? "" });
      return Response.json({});
    });
  });
  afterEach(() => vi.unstubAllGlobals());

  it("count for themselves, and the worker hands each in under its own key", async () => {
    await enterIn(books.ida, who("ida"));
    await enterIn(books.boris, who("boris"));
    await keepIn(books.ida.store, journalOf(""), made("i1", "ida"));
    await keepIn(books.boris.store, journalOf("b"), made("b1", "boris"));
    await keepIn(books.boris.store, journalOf("b"), made("b2", "boris"));
    expect((await waitingIn(books.ida.store, 9)).map(({ id, n }) => [id, n])).toEqual([["i1", 1]]);
    expect((await waitingIn(books.boris.store, 9)).map(({ id, n }) => [id, n])).toEqual([["b1", 1], ["b2", 2]]);

    expect(await handIn()).toBe(3);
    const told = requests.map(({ auth, device_id, events, limit }) => [auth, device_id, events.map(({ id }) => id), limit]);
    expect(told.sort()).toEqual([
      ["Bearer token-boris", "d-boris", ["b1", "b2"], 0],
      ["Bearer token-ida", "d-ida", ["i1"], 0],
    ]);
  });

  it("bring back from the copies what is theirs alone", async () => {
    await keepIn(books.boris.store, journalOf("b"), made("b3", "boris"));
    await books.boris.withDb(async (db) => {
      await db.delete("outbox", "b3");
      await db.delete("ev", "b3");
    });
    expect(await bringBack(books.ida.store, journalOf(""))).toBe(0);
    expect((await waitingIn(books.ida.store, 9)).map(({ id }) => id)).not.toContain("b3");
    expect(await bringBack(books.boris.store, journalOf("b"))).toBe(1);
  });

  it("leave the others' books alone when one person is replaced in his", async () => {
    await enterIn(books.ida, who("una"));
    expect((await waitingIn(books.boris.store, 9)).map(({ id }) => id)).toEqual(["b1", "b2", "b3"]);
    expect((await books.boris.readMeta("session"))?.member.id).toBe("boris");
  });
});
