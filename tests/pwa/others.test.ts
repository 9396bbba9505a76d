import "fake-indexeddb/auto";
import { afterAll, beforeAll, beforeEach, describe, expect, it, vi } from "vitest";

import { bookName, dayOf, type Holder } from "@/core/held.ts";
import type { ExchangeRequest, FactEvent } from "@/protocol/records.ts";

import { Shelf } from "./shelf.ts";

/** A phone in Ida's hands, on which Boris and Una live too. */
const holder = (id: string, edge: number): Holder =>
  ({ id, teamId: "t1", memberId: `m-${id}`, name: id, role: "soigneur", edge, isStepUpAsked: false });
const local = new Shelf();
local.setItem("brinebook.holders", JSON.stringify([holder("", 1), holder("boris", 2), holder("una", 3)]));
local.setItem("brinebook.holder", JSON.stringify({ id: "", day: dayOf(Date.now()) }));
vi.stubGlobal("localStorage", local);
vi.stubGlobal("sessionStorage", new Shelf());

const { keepIn, waitingIn } = await import("@/store/facts.ts");
const { holders, isAsked } = await import("@/store/held.ts");
const { journalOf } = await import("@/store/journal.ts");
const { enterIn } = await import("@/store/load.ts");
const { bookNamed } = await import("@/store/schema.ts");
const { events, session } = await import("@/store/state.ts");
const { passOthers, waitingOf } = await import("@/sync/others.ts");

let answers: Record<string, (request: ExchangeRequest) => Response> = {};
let requests: { who: string; request: ExchangeRequest }[] = [];
const verdicts = (request: ExchangeRequest, status = "ok"): Response => Response.json({
  protocol: 3, epoch: "e1", now_ms: Date.now(), head: 9, verdicts: request.events.map(({ id }) => ({ id, status })),
  events: [], documents: [], cursor: "", more: false,
});
const fact = (id: string, by: string) =>
  ({ id, by, device_id: `d-${by}`, kind: "note", v: 1, subject_id: "r1", at_ms: Date.now(), tz_min: 0, body: { text: id } }) as unknown as FactEvent;

beforeAll(async () => {
  vi.stubGlobal("fetch", async (_: string, init: { body: string; headers: Record<string, string> }) => {
    const who = (init.headers["Authorization"] ?? "").replace("Bearer token-", "");
    const request = JSON.parse(init.body) as ExchangeRequest;
    requests.push({ who, request });
    return (answers[who] ?? verdicts)(request);
  });
  for (const id of ["", "boris", "una"]) {
    await enterIn(bookNamed(bookName(id)), {
      member: { id: `m-${id}`, version: 1, name: id, role: "soigneur", rider_id: null }, team: { id: "t1", version: 1, name: "Halden Vale", race_name: "Tour" },
      rider: null, token: `token-${id}`, deviceId: `d-${id}`, deviceName: "phone",
    });
  }
});
beforeEach(() => { answers = {}; requests = []; });
afterAll(() => vi.unstubAllGlobals());

const note = (id: string, by: string) => keepIn(bookNamed(bookName(by)).store, journalOf(by), fact(id, by));
const waits = async (by: string): Promise<string[]> => (await waitingIn(bookNamed(bookName(by)).store, 99)).map(({ id }) => id);

describe("what the others noted", () => {
  it("goes up under their own keys and devices, once, and nothing of theirs comes down or on screen", async () => {
    await note("i1", "");
    await note("b1", "boris");
    await note("b2", "boris");
    await note("u1", "una");
    await passOthers();
    await passOthers();
    expect(requests.map(({ who, request }) => [who, request.device_id, request.events.map(({ id }) => id), request.limit]).sort()).toEqual([
      ["boris", "d-boris", ["b1", "b2"], 0], ["una", "d-una", ["u1"], 0],
    ]);
    expect([await waits(""), await waits("boris"), await waits("una")]).toEqual([["i1"], [], []]);
    expect(await bookNamed(bookName("boris")).readMeta("cursor")).toBe(null);
    expect([events.value.size, session.value]).toEqual([0, null]);
    expect(journalOf("boris").all()).toEqual([]);
  });

  it("stays when the server does not answer, whoever's server that is", async () => {
    answers = { boris: () => { throw new TypeError("cut"); } };
    await note("b3", "boris");
    await note("u2", "una");
    await passOthers();
    expect([await waits("boris"), await waits("una")]).toEqual([["b3"], []]);
    expect(await waitingOf("boris")).toBe(1);
  });

  it("is asked about no further in this round when the server says later", async () => {
    answers = { boris: (request) => verdicts(request, "retry") };
    await passOthers();
    expect(requests.filter(({ who }) => who === "boris")).toHaveLength(1);
    expect(await waits("boris")).toEqual(["b3"]);
  });

  it("is halved when it is too long, and goes all the same", async () => {
    for (let i = 0; i < 8; i += 1) await note(`l${i}`, "boris");
    answers = { boris: (request) => (request.events.length > 3 ? Response.json({ code: "too_large" }, { status: 413 }) : verdicts(request)) };
    await passOthers();
    expect(await waits("boris")).toEqual([]);
  });

  it("is handed over when the team signed the phone's device out, and what he had read goes", async () => {
    await note("b9", "boris");
    const book = bookNamed(bookName("boris"));
    await book.withDb((db) => db.put("docs", { id: "plan:r1", type: "plan", subject_id: "r1", sha: "x", body: {} }));
    answers = { boris: () => Response.json({ code: "revoked", epoch: "e1" }, { status: 410 }) };
    await passOthers();
    expect(requests.filter(({ who, request }) => who === "boris" && request.events.some(({ id }) => id === "b9")).length).toBeGreaterThan(1);
    expect(await book.withDb((db) => db.getAll("docs"))).toEqual([]);
    expect(holders().map(({ isOut }) => isOut === true)).toEqual([false, true, false]);
  });

  it("is everybody's while nobody holds the phone", async () => {
    isAsked.value = true;
    await passOthers();
    expect(requests.some(({ who, request }) => who === "" && request.events.some(({ id }) => id === "i1"))).toBe(true);
    expect(await waits("")).toEqual([]);
    isAsked.value = false;
  });
});
