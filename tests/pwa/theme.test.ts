import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";

const css = readFileSync(new URL("../../pwa/src/ui/tokens.css", import.meta.url), "utf8");
const hold = readFileSync(new URL("../../pwa/src/ui/screens/hold/hold.css", import.meta.url), "utf8");

function tokens(selector: string, sheet = css): Record<string, string> {
  const block = sheet.slice(sheet.indexOf(`${selector} {`)).split("}")[0] ?? "";
  return Object.fromEntries([...block.matchAll(/--([a-z0-9-]+):\s*(#[0-9a-f]{6})/g)].map(([, name, value]) => [name as string, value as string]));
}

function luminance(hex: string): number {
  const channel = (i: number): number => {
    const c = parseInt(hex.slice(1 + 2 * i, 3 + 2 * i), 16) / 255;
    return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
  };
  return 0.2126 * channel(0) + 0.7152 * channel(1) + 0.0722 * channel(2);
}

function contrast(one: string, other: string): number {
  const [light, dark] = [luminance(one), luminance(other)].sort((a, b) => b - a) as [number, number];
  return (light + 0.05) / (dark + 0.05);
}

const BASE = tokens(":root");

describe.each([
  ["roadbook", BASE], ["slate", { ...BASE, ...tokens(':root[data-theme="slate"]') }], ["tarmac", { ...BASE, ...tokens(':root[data-theme="tarmac"]') }],
])("%s", (name, theme) => {
  const of = (name: string): string => theme[name] as string;

  it.each(["ink", "ink-2", "act", "dry", "wet", "lane"])("keeps %s at 7:1 or more on paper and card", (name) => {
    expect(contrast(of(name), of("paper"))).toBeGreaterThanOrEqual(7);
    expect(contrast(of(name), of("card"))).toBeGreaterThanOrEqual(7);
  });

  it("shows a shared phone's edges at 3:1 (WCAG 2.2, 1.4.11) on paper and card, no two alike", () => {
    const edges = Object.values({ ...tokens(":root", hold), ...(name === "slate" ? tokens(':root[data-theme="slate"]', hold) : {}) });
    expect(new Set(edges).size).toBe(6);
    for (const edge of edges) for (const ground of ["paper", "card"]) expect(contrast(edge, of(ground))).toBeGreaterThanOrEqual(3);
  });

  it("keeps words on the liquid at 7:1, rules at 3:1, and marks on the lane's ground at 5:1", () => {
    expect(contrast(of("on-act"), of("act"))).toBeGreaterThanOrEqual(7);
    expect(contrast(of("rule"), of("paper"))).toBeGreaterThanOrEqual(3);
    for (const name of ["dry", "wet", "lane"]) expect(contrast(of(name), of("lane-ground"))).toBeGreaterThanOrEqual(5);
  });
});
