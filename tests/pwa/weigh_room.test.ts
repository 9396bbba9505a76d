import { isThirdAsked, mayKeep, morningBody, NOTHING_TYPED, readingsOf, weighedBody, type Typed } from "@/core/weigh_room.ts";

const typed = (...masses: string[]): Typed => ({
  ...NOTHING_TYPED, texts: { mass: masses[0] ?? "", mass2: masses[1] ?? "", mass3: masses[2] ?? "" },
});

// Two readings averaged, the middle of three, agreement within 0.1 kg: common practice, no source.
describe("readings of one scale", () => {
  it("keeps a single reading as it is and says nothing about others", () => {
    expect(weighedBody("before", typed("67,4"))).toEqual({ moment: "before", mass_kg: 67.4 });
    expect(readingsOf(typed("67.4"))).toBeNull();
  });

  it.each([
    [["67.3", "67.4"], 67.35, 0.1, false],
    [["67.3", "67.7"], 67.5, 0.4, true],
    [["67.7", "67.3", "67.4"], 67.4, 0.4, true],
  ])("%s comes to %f kg, %f apart", (masses, massKg, spreadKg, isApart) => {
    expect(readingsOf(typed(...masses))).toMatchObject({ massKg, spreadKg, isApart });
    expect(morningBody(typed(...masses))).toEqual({ mass_kg: massKg, readings_kg: masses.map(Number) });
  });

  it("asks for a third reading only once two lie apart, and keeps what was typed", () => {
    expect(isThirdAsked(typed("67.3", "67.4"))).toBe(false);
    expect(isThirdAsked(typed("67.3", "67.5"))).toBe(true);
    expect(isThirdAsked(typed("67.3", "67.4", "67.4"))).toBe(true);
  });

  it("refuses a second reading that nobody weighs", () => {
    expect(mayKeep("after", typed("67.3", "6.74"))).toBe(false);
    expect(mayKeep("after", typed("", "67.4"))).toBe(false);
  });
});
