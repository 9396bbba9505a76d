import { fileKind, figuresOf, recordedOf, riderOfFile, timeOfDay } from "@/core/ride_files.ts";
import type { FactEvent, RiddenBody, Rider } from "@/protocol/records.ts";

const rider = (race_number: number, name: string): Rider => ({ id: `r-${race_number}`, race_number, name });
const SQUAD = [rider(41, "L. Aalto"), rider(4, "P. Estèphe"), rider(45, "J. Brandl"), rider(46, "T. Brandl")];
const ridden = (lamport: number, more: Partial<FactEvent> = {}): FactEvent => ({
  id: `e${lamport}`, kind: "ridden", subject_id: "r-41", by: "m", device_id: "d", n: lamport, lamport, at_ms: 0, stage_id: "s1",
  body: { duration_h: lamport, length_km: 10, work_kj: 1, file_kind: "fit", along: [], started_at_ms: 0, missing_power_frac: 1 }, ...more,
});

describe("what a shared file is", () => {
  it.each([
    ["ride.fit", "", "ride"],
    ["unnamed", `${"\u000e "}${"x".repeat(6)}.FIT`, "ride"],
    ["activity.xml", '<?xml version="1.0"?><TrainingCenterDatabase xmlns="x">', "ride"],
    ["stage.gpx", '<gpx><trk><trkseg><trkpt lat="1" lon="2"><ele>3</ele></trkpt>', "road"],
    ["stage.gpx", '<gpx><trk><trkseg><trkpt lat="1" lon="2"><ele>3</ele><time>2026-07-04T12:00:00Z</time></trkpt>', "road_or_ride"],
    ["waypoints.gpx", '<gpx><metadata><time>2026-07-04T12:00:00Z</time></metadata><trk><trkpt lat="1" lon="2"></trkpt>', "road"],
    ["forecast.csv", "time,temp_c\n", "weather"],
  ])("%s", (name, text, kind) => {
    expect(fileKind(name, text)).toBe(kind);
  });
});

describe("whose ride it may be", () => {
  it.each([
    ["stage-3_aalto.fit", "r-41"],
    ["ESTEPHE 2026-07-04.fit", "r-4"],
    ["2026-07-04-41.fit", null],
    ["45 brandl.fit", "r-45"],
    ["brandl.fit", null],
    ["ride.fit", null],
  ])("%s", (name, id) => {
    expect(riderOfFile(name, SQUAD)?.id ?? null).toBe(id);
  });
});

describe("what it takes the place of", () => {
  it("is the last recording of this rider and stage, whatever order they came in", () => {
    const events = [ridden(3), ridden(7), ridden(5), ridden(9, { stage_id: "s2" }), ridden(8, { subject_id: "r-4" })];
    expect(recordedOf(events, "r-41", "s1")?.lamport).toBe(7);
    expect(recordedOf(events, "r-45", "s1")).toBeNull();
  });

  it("has no power where the meter said nothing", () => {
    expect(figuresOf(ridden(1).body as RiddenBody)).toEqual({ durationH: 1, lengthKm: 10, powerW: null });
  });
});

describe("a time of day at the stage", () => {
  const start = Date.UTC(2026, 6, 4, 10, 40);
  it.each([
    ["13:05", "Europe/Paris", Date.UTC(2026, 6, 4, 11, 5)],
    ["9.30", "Europe/Paris", Date.UTC(2026, 6, 4, 7, 30)],
    ["24:10", "Europe/Paris", null],
    ["soon", "Europe/Paris", null],
  ])("%s in %s", (time, zone, at) => {
    expect(timeOfDay(time, start, zone)).toBe(at);
  });

  it("is the next day's after a start in the evening", () => {
    expect(timeOfDay("00:20", Date.UTC(2026, 6, 4, 19), "Europe/Paris")).toBe(Date.UTC(2026, 6, 4, 22, 20));
  });
});
