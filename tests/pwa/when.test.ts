import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";

const exchanged: number[] = [];
vi.mock("@/sync/exchange.ts", () => ({ exchange: async () => { exchanged.push(Date.now()); } }));

const WHO = { member: { id: "m1" }, team: { id: "t1" }, rider: null, token: "secret", deviceId: "d1", deviceName: "phone" };
const page = { visibilityState: "visible", addEventListener: () => undefined };
let news: ReadableStreamDefaultController<Uint8Array> | null = null;
let isLive = false;

/** A fresh start of the app's clockwork on a clock of the test's own. */
async function started(): Promise<void> {
  vi.resetModules();
  const { session } = await import("@/store/state.ts");
  session.value = WHO as never;
  (await import("@/sync/when.ts")).startExchanging();
  await vi.advanceTimersByTimeAsync(0);
}

beforeEach(() => {
  vi.useFakeTimers();
  exchanged.length = 0;
  isLive = false;
  page.visibilityState = "visible";
  vi.stubGlobal("document", page);
  vi.stubGlobal("addEventListener", () => undefined);
  vi.stubGlobal("fetch", async () => {
    if (!isLive) throw new TypeError("no stream");
    return new Response(new ReadableStream<Uint8Array>({ start: (controller) => { news = controller; } }));
  });
});

afterEach(() => {
  vi.useRealTimers();
  vi.unstubAllGlobals();
});

const gaps = (): number[] => exchanged.slice(1).map((at, i) => at - (exchanged[i] ?? 0));

describe("without a stream", () => {
  it("looks every half minute, give or take a quarter, never twice after the same wait for long", async () => {
    await started();
    await vi.advanceTimersByTimeAsync(30 * 60_000);
    expect(exchanged.length).toBeGreaterThanOrEqual(30 * 60_000 / 37_500);
    expect(Math.min(...gaps())).toBeGreaterThanOrEqual(22_500);
    expect(Math.max(...gaps())).toBeLessThanOrEqual(37_500);
    expect(new Set(gaps().map(Math.round)).size).toBeGreaterThan(gaps().length * 0.9);
  });

  it("phones that came back together part again within minutes", async () => {
    const at: number[] = [];
    for (let phone = 0; phone < 40; phone += 1) {
      exchanged.length = 0;
      vi.setSystemTime(1_750_000_000_000);
      await started();
      await vi.advanceTimersByTimeAsync(10 * 60_000);
      at.push(...exchanged.filter((ms) => ms - 1_750_000_000_000 > 8 * 60_000));
      vi.clearAllTimers();
    }
    const perSecond = new Map<number, number>();
    for (const ms of at) perSecond.set(Math.floor(ms / 1000), (perSecond.get(Math.floor(ms / 1000)) ?? 0) + 1);
    // 40 phones, one look in 30 s each: 1.3 a second on average; all at once would be 40.
    expect(Math.max(...perSecond.values())).toBeLessThan(10);
  });

  it("leaves the server alone while nobody looks", async () => {
    await started();
    page.visibilityState = "hidden";
    const n = exchanged.length;
    await vi.advanceTimersByTimeAsync(10 * 60_000);
    expect(exchanged.length).toBe(n);
  });
});

describe("with a stream", () => {
  it("exchanges within a second of a new head, and not for a sign of life", async () => {
    isLive = true;
    await started();
    const n = exchanged.length;
    news?.enqueue(new TextEncoder().encode(": alive\n\n"));
    await vi.advanceTimersByTimeAsync(1_000);
    expect(exchanged.length).toBe(n);
    news?.enqueue(new TextEncoder().encode('event: head\ndata: {"head":7}\n\n'));
    await vi.advanceTimersByTimeAsync(1_000);
    expect(exchanged.length).toBe(n + 1);
  });

  it("goes on looking by itself when the stream ends, and opens another", async () => {
    isLive = true;
    await started();
    const first = news;
    first?.close();
    await vi.advanceTimersByTimeAsync(60_000);
    expect(news).not.toBe(first);
    expect(exchanged.length).toBeGreaterThanOrEqual(2);
  });
});
