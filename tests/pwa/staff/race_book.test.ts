import { describe, expect, test } from "vitest";

import { caughtUp, hasPlaces, nextFeedId, placeNear, raceLengthKm, stageFaults, stageFrom, typedOf } from "@/core/race_book.ts";
import type { Stage } from "@/protocol/records.ts";

const STAGE: Stage = {
  id: "s12", version: 4, number: 12, day_index: 13, name: "Varn – Col d'Ombre", kind: "mountain",
  start_at_ms: Date.UTC(2026, 6, 16, 10, 35), time_zone: "Europe/Paris", km0_km: 6.2, scheduled_duration_h: 4.6,
  course: [[0, 200, 45, 6], [180, 1600, 45.5, 6.6]],
  feed_points: [{ id: "z1", name: "Zone 1", kind: "zone", km: 74 }], forecast: [], note: "gravel after km 90",
};

describe("a typed stage", () => {
  test("goes out and comes back the same", () => {
    expect(stageFrom(typedOf(STAGE), STAGE)).toEqual(STAGE);
  });

  test("keeps the version it was edited from, and its course", () => {
    const edited = stageFrom({ ...typedOf(STAGE), name: "Varn – Ombre" }, STAGE);

    expect([edited.version, edited.course, edited.name]).toEqual([4, STAGE.course, "Varn – Ombre"]);
  });

  test("a start is read in the zone of the stage", () => {
    const edited = stageFrom({ ...typedOf(STAGE), start: "2026-07-16T13:10" }, STAGE);

    expect(edited.start_at_ms).toBe(Date.UTC(2026, 6, 16, 11, 10));
  });

  test("feed points go out in the order of the road", () => {
    const feeds = [...typedOf(STAGE).feeds, { id: "feed-2", name: "Zone 0", kind: "zone" as const, km: "31,5" }];

    expect(stageFrom({ ...typedOf(STAGE), feeds }, STAGE).feed_points?.map((f) => f.km)).toEqual([31.5, 74]);
  });
});

describe("faults", () => {
  const typed = typedOf(STAGE);
  const lengthKm = raceLengthKm(STAGE);

  test("a sound stage has none", () => {
    expect(stageFaults(typed, lengthKm)).toEqual([]);
  });

  test("every fault names its field, all of them at once", () => {
    const broken = { ...typed, name: " ", number: "31", timeZone: "Europe/Nowhere", km0: "x" };

    expect(stageFaults(broken, lengthKm).map((f) => [f.field, f.issue])).toEqual([
      ["name", "empty"], ["timeZone", "unreadable"], ["number", "too_high"], ["km0", "not_a_number"],
    ]);
  });

  test("a feed point behind the finish is a fault of that feed point", () => {
    const feeds = [{ id: "z9", name: "Zone 9", kind: "zone" as const, km: "174" }];

    expect(lengthKm).toBeCloseTo(173.8, 9);
    expect(stageFaults({ ...typed, feeds }, lengthKm)).toEqual([{ field: "feed", feedId: "z9", issue: "beyond_course" }]);
  });
});

test("a new feed point never takes an id in use", () => {
  const feed = (id: string) => ({ id, name: "", kind: "zone" as const, km: "1" });

  expect(nextFeedId([feed("feed-2")])).toBe("feed-3");
  expect(nextFeedId([feed("feed-3"), feed("feed-1")])).toBe("feed-4");
});

describe("two people at one stage", () => {
  const theirs: Stage = { ...STAGE, version: 5, note: "gravel gone", name: "Varn – Ombre" };

  test("what nobody touched here follows what was saved there", () => {
    expect(caughtUp(typedOf(STAGE), STAGE, theirs)).toEqual({ typed: typedOf(theirs), clashes: [] });
  });

  test("what was typed here stays, and is named where both changed it", () => {
    const mine = { ...typedOf(STAGE), note: "crosswind", duration: "5" };
    const { typed, clashes } = caughtUp(mine, STAGE, theirs);

    expect([typed.name, typed.note, typed.duration, clashes]).toEqual(["Varn – Ombre", "crosswind", "5", ["note"]]);
  });

  test("the same change on both sides is none", () => {
    expect(caughtUp({ ...typedOf(STAGE), note: "gravel gone" }, STAGE, theirs).clashes).toEqual([]);
  });
});

describe("a road nobody has a track of", () => {
  test("a table says in its heading whether it knows where it lies", () => {
    expect([hasPlaces("km;elev_m;lat;lon\n0;1;2;3"), hasPlaces("KM,Lat,Lon,elev_m\n"), hasPlaces("km;elev_m\nlat;lon")]).toEqual([true, true, false]);
  });

  test("it lies where the road before it ends, or its own begins", () => {
    const next: Stage = { ...STAGE, id: "s13", day_index: 14, course: [] };
    expect(placeNear([STAGE, next], next)).toEqual({ latitudeDeg: 45.5, longitudeDeg: 6.6 });
    expect(placeNear([STAGE, next], STAGE)).toEqual({ latitudeDeg: 45, longitudeDeg: 6 });
    expect(placeNear([next], next)).toBeNull();
  });
});
