import { describe, expect, test } from "vitest";

import { heatShare, retest, sodiumShift } from "@/core/season.ts";
import { acknowledgedBy, concernsOf, concernsOfFacts, ranked } from "@/core/watch.ts";
import { bottlesBody, doneBy, faultOf, leftL, mayKeep, morningBody, NOTHING_TYPED, weighedBody, type Typed } from "@/core/weigh_room.ts";
import type { FactEvent, Flag } from "@/protocol/records.ts";

let n = 0;
function fact(kind: string, body: unknown, more: Partial<FactEvent> = {}): FactEvent {
  n += 1;
  return { id: `f${n}`, kind, subject_id: "r1", by: "ana", device_id: "d", n, lamport: n, at_ms: 1000 + n, stage_id: "s2", body, ...more };
}
const flag = (code: string, severity: Flag["severity"]): Flag => ({ code, severity });
const place = (id: string): number => Number(id.slice(1));

describe("watch", () => {
  test("drinking above losses stands before everything a scale or a plan can say", () => {
    const found = ranked(concernsOf([
      { id: "a", rider_id: "r1", stage_id: "s2", flags: [flag("weigh_again", "caution"), flag("persistently_salty", "medical"), flag("out_of_range", "note")] },
      { id: "b", rider_id: "r2", stage_id: "s2", flags: [flag("drank_above_losses", "medical")] },
    ], place));

    expect(found.map((one) => one.code)).toEqual(["drank_above_losses", "persistently_salty", "weigh_again"]);
  });

  test("a medical flag nobody has named yet still stands before every caution", () => {
    const found = ranked(concernsOf([{ id: "a", rider_id: "r1", flags: [flag("weigh_again", "caution"), flag("brand_new", "medical")] }], place));

    expect(found[0]?.code).toBe("brand_new");
  });

  test("the same concern on two stages is one, of the later stage", () => {
    const found = concernsOf(["s3", "s1", "s2"].map((id) => ({ id, rider_id: "r1", stage_id: id, flags: [flag("weigh_again", "caution")] })), place);

    expect(found.map((one) => one.stageId)).toEqual(["s3"]);
  });

  test("confusion and a yes to illness are facts that count while they are fresh", () => {
    const events = [fact("symptom", { symptom: "confused" }), fact("morning_check", { mass_kg: 66, is_ill: true }), fact("morning_check", { mass_kg: 66 })];

    expect(ranked(concernsOfFacts(events, 0)).map((one) => one.code)).toEqual(["symptom_confused", "feels_ill"]);
    expect(concernsOfFacts(events, 1e6)).toEqual([]);
  });

  test("an answer counts for its rider, stage and code alone, and carries a name", () => {
    const concern = concernsOf([{ id: "a", rider_id: "r1", stage_id: "s2", flags: [flag("weigh_again", "caution")] }], place)[0];
    const answers = [fact("acknowledged", { code: "weigh_again" }), fact("acknowledged", { code: "weigh_again" }, { stage_id: "s1", by: "ben" })];

    expect(concern && acknowledgedBy(answers, concern)?.by).toBe("ana");
    expect(concern && acknowledgedBy([answers[1] as FactEvent], concern)).toBeNull();
  });
});

describe("the season", () => {
  test("heat builds up within days and fades by 2.5 % a day", () => {
    const week = [1, 2, 3, 4, 5, 6, 7];
    const after = heatShare(week, 8);

    expect(after).toBeGreaterThan(0.75);
    expect(heatShare(week, 9) / after).toBeCloseTo(0.975, 9);
    expect(heatShare(week, 36) / after).toBeCloseTo(0.975 ** 28, 9);
    expect(heatShare([], 9)).toBe(0);
  });

  test("a test is due when there is none, when it is old, and when heat has come in between", () => {
    expect([retest(null, [], 9), retest(0, [], 61), retest(0, [], 60), retest(0, [1, 2, 3, 4], 5)]).toEqual(["never", "old", "fresh", "heat"]);
  });

  test("full adaptation makes sweat about 30 % more dilute", () => {
    expect(sodiumShift(0, 1)).toBeCloseTo(-0.295, 3);
    expect(sodiumShift(0.5, 0.5)).toBe(0);
  });
});

describe("the weigh room", () => {
  const typed = (texts: Typed["texts"], more: Partial<Typed> = {}): Typed => ({ ...NOTHING_TYPED, texts, ...more });

  test("bottles on a scale: gross less the empty ones is what came back", () => {
    const bottles = typed({ gross: "812", tare: "71", bottles: "2" });

    expect(leftL(bottles)).toBeCloseTo(0.67, 9);
    expect(bottlesBody(bottles)).toEqual({ left_l: 0.67, how: "weighed", gross_kg: 0.812, tare_kg: 0.142 });
    expect(mayKeep("bottles", typed({ gross: "100", tare: "71", bottles: "2" }))).toBe(false);
  });

  test("limits are those of the record, and a half bottle is no bottle", () => {
    expect([faultOf("mass", "29"), faultOf("mass", "68,4"), faultOf("mass", "x"), faultOf("bottles", "1.5"), faultOf("food", "")])
      .toEqual(["between", null, "notNumber", "whole", null]);
  });

  test("only what was said goes into the entry", () => {
    expect(morningBody(typed({ mass: "66.2" }))).toEqual({ mass_kg: 66.2 });
    expect(morningBody(typed({ mass: "66.2", sleep: "7.5" }, { colour: 5, isIll: true }))).toEqual({ mass_kg: 66.2, sleep_h: 7.5, urine_colour: 5, is_ill: true });
    expect(weighedBody("after", typed({ mass: "65", urine: "0.3" }, { isDry: false }))).toEqual({ moment: "after", mass_kg: 65, food_kg: 0, urine_l: 0.3, is_kit_dry: false });
  });

  test("done says that there is an entry of this moment, never what it says", () => {
    const events = [fact("weighed", { moment: "before", mass_kg: 66 }), fact("weighed", { moment: "after", mass_kg: 65 }, { subject_id: "r2" })];

    expect([...doneBy(events, "s2", "before")]).toEqual(["r1"]);
    expect([...doneBy(events, "s1", "before")]).toEqual([]);
  });
});
