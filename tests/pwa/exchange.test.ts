import "fake-indexeddb/auto";
import { gunzipSync } from "node:zlib";
import { beforeEach, describe, expect, it, vi } from "vitest";

import type { ExchangeReply, ExchangeRequest, FactEvent, Verdict } from "@/protocol/records.ts";
import { drank, takeBack, weighed } from "@/store/commands.ts";
import { enter, leave, refresh } from "@/store/load.ts";
import { reconcile, waiting } from "@/store/outbox.ts";
import { readMeta, withDb } from "@/store/schema.ts";
import { docs, events, folded, isHeldBack, isKeyRefused, link, session, tray, unsent } from "@/store/state.ts";
import { exchange } from "@/sync/exchange.ts";

const WHO = {
  member: { id: "m1", name: "L. Aalto", role: "rider" as const, rider_id: "r1" },
  team: { id: "t1", name: "Halden Vale", race_name: "Three Rivers Tour" },
  rider: { id: "r1", name: "Aalto", race_number: 41 }, token: "secret", deviceId: "d1", deviceName: "phone",
};

/** A small server: says what a test told it to, keeps what it took. */
class Server {
  requests: ExchangeRequest[] = [];
  kept = new Map<string, FactEvent>();
  verdict: (event: FactEvent) => Partial<Verdict> = () => ({ status: "ok" });
  reply: Partial<ExchangeReply> = {};
  status = 200;
  code = "";
  isDown = false;
  mostEvents = 200;
  losesReply = false;
  nPacked = 0;

  answer(request: ExchangeRequest): Response {
    this.requests.push(request);
    if (this.status !== 200) return Response.json({ code: this.code }, { status: this.status });
    if (request.events.length > this.mostEvents) return Response.json({ code: "too_many_events" }, { status: 413 });
    const verdicts = request.events.map((event) => {
      const told = this.kept.has(event.id) ? { status: "dup" } : this.verdict(event);
      if (told.status === "ok") this.kept.set(event.id, event);
      return { id: event.id, ...told };
    });
    if (this.losesReply) throw new TypeError("cut");
    return Response.json({
      protocol: 1, epoch: "e1", now_ms: Date.now(), head: this.kept.size, verdicts, events: [], documents: [], cursor: "c1", more: false,
      ...this.reply,
    });
  }
}

let server: Server;
const shelf = new Map<string, string>();

beforeEach(async () => {
  server = new Server();
  shelf.clear();
  vi.stubGlobal("localStorage", {
    get length() { return shelf.size; }, key: (i: number) => [...shelf.keys()][i] ?? null,
    getItem: (key: string) => shelf.get(key) ?? null, setItem: (key: string, value: string) => void shelf.set(key, value),
    removeItem: (key: string) => void shelf.delete(key),
  });
  vi.stubGlobal("fetch", async (_: string, init: { body: string | ArrayBuffer; headers: Record<string, string> }) => {
    if (server.isDown) throw new TypeError("down");
    const isPacked = init.headers["Content-Encoding"] === "gzip";
    server.nPacked += isPacked ? 1 : 0;
    const text = isPacked ? gunzipSync(new Uint8Array(init.body as ArrayBuffer)).toString() : (init.body as string);
    return server.answer(JSON.parse(text) as ExchangeRequest);
  });
  await withDb(async (db) => {
    for (const name of ["ev", "outbox", "authored", "docs", "tray", "meta"] as const) await db.clear(name);
  });
  isKeyRefused.value = false;
  await enter(WHO);
});

const tap = (volumeL = 0.25) => drank("r1", "s1", { volume_l: volumeL, how: "level" });

describe("the outbox", () => {
  it("holds a fact with its outbox entry and its copy, numbered in order", async () => {
    const [one, two] = [await tap(), await tap()];
    expect([one.n, two.n]).toEqual([1, 2]);
    expect(two.lamport).toBeGreaterThan(one.lamport);
    expect((await waiting(9)).map(({ id }) => id)).toEqual([one.id, two.id]);
    expect(unsent.value?.count).toBe(2);
    expect(shelf.size).toBe(2);
  });

  it("brings back what the database lost, once", async () => {
    const { id } = await tap();
    await withDb((db) => db.clear("outbox"));
    await withDb((db) => db.clear("ev"));
    expect(await reconcile()).toBe(1);
    expect(await reconcile()).toBe(0);
    expect((await waiting(9)).map((event) => event.id)).toEqual([id]);
  });

  it("refuses to leave while a fact waits, and leaves nothing after", async () => {
    await tap();
    expect(await leave()).toBe(false);
    await exchange();
    expect(await leave()).toBe(true);
    expect(session.value).toBeNull();
    expect(events.value.size).toBe(0);
  });

  it("lets facts go only with a person's word, and then no copy brings them back", async () => {
    await tap();
    expect(await leave(() => undefined, true)).toBe(true);
    expect([session.value, unsent.value, shelf.size]).toEqual([null, null, 0]);
    expect(await reconcile()).toBe(0);
    expect(await waiting(9)).toEqual([]);
  });

  it("takes back with a fact that names the fact", async () => {
    const fact = await tap();
    await takeBack(fact);
    expect(folded.value.live.size).toBe(0);
    expect(folded.value.ignored.has(fact.id)).toBe(true);
  });
});

describe("an exchange", () => {
  it("packs a long push, and sends a short one, or any without the means, as it is", async () => {
    await tap();
    await exchange();
    expect(server.nPacked).toBe(0);
    for (let i = 0; i < 30; i += 1) await tap();
    await exchange();
    expect([server.nPacked, server.kept.size]).toEqual([1, 31]);
    vi.stubGlobal("CompressionStream", undefined);
    for (let i = 0; i < 30; i += 1) await tap();
    await exchange();
    vi.unstubAllGlobals();
    expect([server.nPacked, server.kept.size]).toEqual([1, 61]);
  });

  it("clears what the server took, and keeps it as authored", async () => {
    const fact = await tap();
    await exchange();
    expect(unsent.value).toBeNull();
    expect(link.value).toBe("linked");
    expect(shelf.size).toBe(0);
    expect(server.kept.get(fact.id)?.body).toEqual(fact.body);
    expect(await withDb((db) => db.getKey("authored", fact.id))).toBe(fact.id);
  });

  it("sends the same bytes again when the reply was lost, and the server keeps one", async () => {
    const fact = await tap();
    server.losesReply = true;
    await exchange();
    expect(unsent.value?.count).toBe(1);
    server.losesReply = false;
    await exchange();
    expect(unsent.value).toBeNull();
    expect(server.kept.size).toBe(1);
    expect(server.requests.map(({ events: sent }) => sent[0])).toEqual([fact, fact]);
  });

  it.each(["rejected", "conflict"] as const)("moves a %s fact to the tray, where a person sees it", async (status) => {
    server.verdict = () => ({ status, code: "bad_body", field: "mass_kg", limit: "30 to 150" });
    const fact = await weighed("r1", "s1", { moment: "before", mass_kg: 20 });
    await exchange();
    expect(unsent.value).toBeNull();
    expect(tray.value.map(({ event, verdict }) => [event.id, verdict.field])).toEqual([[fact.id, "mass_kg"]]);
    expect(events.value.has(fact.id)).toBe(false);
  });

  it("keeps a fact to be tried again, and does not spin on it", async () => {
    server.verdict = () => ({ status: "retry", code: "unknown_ref" });
    await tap();
    await exchange();
    expect(unsent.value?.count).toBe(1);
    expect(server.requests).toHaveLength(1);
  });

  it("keeps every fact when the key is refused", async () => {
    await tap();
    server.status = 401;
    await exchange();
    expect(unsent.value?.count).toBe(1);
    expect(isKeyRefused.value).toBe(true);
    server.status = 200;
    await exchange();
    expect(unsent.value).toBeNull();
    expect(isKeyRefused.value).toBe(false);
  });

  it("forgets what was pulled when the phone is revoked, but no fact that waits", async () => {
    server.reply = { documents: [{ id: "team:t1", type: "team", subject_id: "t1", sha: "x", body: { id: "t1" } }] };
    await exchange();
    expect(docs.value.size).toBe(1);
    const fact = await tap();
    Object.assign(server, { status: 403, code: "revoked" });
    await exchange();
    expect(docs.value.size).toBe(0);
    expect((await waiting(9)).map(({ id }) => id)).toEqual([fact.id]);
  });

  it.each([500, 503, 429])("keeps every fact on %i", async (status) => {
    await tap();
    server.status = status;
    await exchange();
    expect(unsent.value?.count).toBe(1);
    expect(link.value).toBe("held");
  });

  it("halves a batch that is too large until all is passed", async () => {
    for (let i = 0; i < 11; i += 1) await tap();
    server.mostEvents = 3;
    await exchange();
    expect(unsent.value).toBeNull();
    expect(server.kept.size).toBe(11);
  });

  it("sets one fact aside that is too large alone, and passes the others", async () => {
    const big = await tap();
    const small = await tap();
    server.answer = ((inner) => (request: ExchangeRequest) =>
      request.events.some(({ id }) => id === big.id) ? new Response("{}", { status: 413 }) : inner(request))(server.answer.bind(server));
    await exchange();
    expect([...server.kept.keys()]).toEqual([small.id]);
    expect(tray.value.map(({ verdict }) => verdict.code)).toEqual(["too_large"]);
  });

  it("applies nothing of an unreadable reply", async () => {
    await tap();
    server.reply = { cursor: "c9", documents: "nonsense" as never };
    await exchange();
    expect(unsent.value?.count).toBe(1);
    expect(await readMeta("cursor")).toBeNull();
  });

  it("starts over on reset without losing a fact made here", async () => {
    const passed = await tap();
    await exchange();
    server.reply = { reset: true, documents: [] };
    const fresh = await tap();
    await exchange();
    expect([...events.value.keys()].sort()).toEqual([passed.id, fresh.id].sort());
  });

  it("sends again what it authored when the server is another one", async () => {
    await tap();
    await tap();
    await exchange();
    server.kept.clear();
    server.reply = { epoch: "e2", cursor: "c2" };
    await exchange();
    expect(server.kept.size).toBe(2);
    expect(unsent.value).toBeNull();
  });

  it("does not follow a server for ever that begins anew with each answer", async () => {
    await exchange();
    await tap();
    server.requests = [];
    server.reply = { reset: true };
    await exchange();
    expect(server.requests.length).toBeLessThan(5);
    expect(server.kept.size).toBe(1);
  });

  it("sends what was refused to another server too, for its review", async () => {
    server.verdict = () => ({ status: "rejected", code: "bad_body" });
    const fact = await weighed("r1", "s1", { moment: "before", mass_kg: 20 });
    await exchange();
    server.requests = [];
    server.reply = { epoch: "e2", cursor: "c2" };
    await exchange();
    expect(server.requests.flatMap(({ events: sent }) => sent.map(({ id }) => id))).toEqual([fact.id]);
    expect(tray.value.map(({ event }) => event.id)).toEqual([fact.id]);
    expect(unsent.value).toBeNull();
  });

  it("sends a fact again that a correction names and the server does not know", async () => {
    const fact = await tap();
    await exchange();
    const correction = await takeBack(fact);
    server.kept.clear();
    server.verdict = ({ ref }) => (ref && !server.kept.has(ref) ? { status: "retry", code: "unknown_ref" } : { status: "ok" });
    await exchange();
    await exchange();
    await exchange();
    expect([...server.kept.keys()].sort()).toEqual([fact.id, correction.id].sort());
    expect(unsent.value).toBeNull();
  });

  it("advances its own clock past every fact it hears of", async () => {
    const heard: FactEvent = { id: "0190a000-0000-7000-8000-000000000001", kind: "note", subject_id: "r1", by: "m2", device_id: "d2", n: 1, lamport: 900, at_ms: 1, body: { text: "x" } };
    server.reply = { events: [[1, heard]] };
    await exchange();
    expect((await tap()).lamport).toBeGreaterThan(900);
  });

  it("refetches once when the digest does not match, and not for ever", async () => {
    server.reply = { digest: [7, "0000000000000000"] };
    await exchange();
    await refresh();
    const n = server.requests.length;
    expect(n).toBe(2);
    expect(server.requests[1]?.cursor ?? null).toBeNull();
    await exchange();
    expect(server.requests.length).toBe(n + 1);
  });

  it("forgets a document whose body is gone", async () => {
    const document = { id: "team:t1", type: "team", subject_id: "t1", sha: "x" };
    server.reply = { documents: [{ ...document, body: { id: "t1" } }] };
    await exchange();
    server.reply = { documents: [document] };
    await exchange();
    expect(docs.value.size).toBe(0);
  });

  it("shows what came as the store has it, whether it only adds or takes away too", async () => {
    const heard = (n: number): FactEvent => ({ id: `0190a000-0000-7000-8000-00000000001${n}`, kind: "note", subject_id: `r${n}`, by: "m2", device_id: "d2", n, lamport: n, at_ms: n, body: { text: "x" } });
    const plan = { id: "stage:s1", type: "stage", subject_id: "t1", sha: "x", body: { id: "s1" } };
    const shown = async (): Promise<void> => {
      const [seen, seenDocs] = [[...events.value.keys()].sort(), [...docs.value.keys()].sort()];
      await refresh();
      expect([[...events.value.keys()].sort(), [...docs.value.keys()].sort()]).toEqual([seen, seenDocs]);
    };
    const mine = await tap();
    server.reply = { events: [[1, heard(1)], [2, heard(2)]], documents: [plan] };
    await exchange();
    expect([...events.value.keys()].sort()).toEqual([heard(1).id, heard(2).id, mine.id].sort());
    await shown();
    server.reply = { drop: ["r1"], events: [[3, heard(3)]] };
    await exchange();
    expect(events.value.has(heard(1).id)).toBe(false);
    expect(events.value.has(heard(3).id)).toBe(true);
    await shown();
  });

  it("keeps a tap made while the book was being read", async () => {
    const reading = refresh();
    const fact = await tap();
    await reading;
    expect(events.value.has(fact.id)).toBe(true);
  });

  it("hands entries in while others' figures are held back, and leaves cursor and book as they are", async () => {
    const theirs: FactEvent = { id: "0190a000-0000-7000-8000-000000000031", kind: "weighed", subject_id: "r2", by: "m2", device_id: "d2", n: 1, lamport: 1, at_ms: 1, body: { moment: "before", mass_kg: 70 } };
    server.reply = { events: [[1, theirs]], cursor: "c7" };
    await exchange();
    const before = [...events.value.keys()];
    await withDb(async (db) => db.put("meta", null, "next_cursor"));
    server.reply = { is_held_back: true, events: [], cursor: "" };
    const kept = await tap();
    await exchange();
    expect([isHeldBack.value, server.kept.has(kept.id), unsent.value, await readMeta("cursor")]).toEqual([true, true, null, "c7"]);
    expect([...events.value.keys()]).toEqual([...before, kept.id]);

    server.reply = { cursor: "c8" };
    await exchange();
    expect(isHeldBack.value).toBe(false);
  });
});
