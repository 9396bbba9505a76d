/** From an empty book to a first plan: rosters in one line per rider, defaults that say they are defaults. */

import type { CoursePoint, Drink, FeedPoint, Food, ForecastRow, Rider, RiderBody, Stage, StageKind } from "@/protocol/records.ts";

export interface RosterLine {
  rider: Rider;
  body: RiderBody;
  /** What was not typed and stands at a default. */
  defaults: readonly ("height" | "age" | "sex")[];
}

export interface RosterFault {
  line: number;
  text: string;
  why: "unreadable" | "number" | "mass" | "height" | "age" | "twice";
}

/** What a male professional rider is near to when nobody typed it (common practice, no source). */
export const DEFAULT_HEIGHT_M = 1.8;
export const DEFAULT_AGE_YEARS = 27;

const LINE = /^(\d{1,3})[\s,;.]+(.+?)[\s,;]+(\d{2,3}(?:[.,]\d+)?)\s*(?:kg)?(?:[\s,;]+(\d[.,]\d{1,2}|\d{3})\s*(?:m|cm)?)?(?:[\s,;]+(\d{1,2}))?(?:[\s,;]+([mf]))?$/i;

/** "61 Teodor Maravel 63.4 kg 1.78 26 m": number, name and mass are needed, the rest may be left out. */
export function readRoster(text: string): { lines: RosterLine[]; faults: RosterFault[] } {
  const lines: RosterLine[] = [];
  const faults: RosterFault[] = [];
  const seen = new Set<number>();
  text.split(/\r?\n/).forEach((raw, i) => {
    const bare = raw.trim();
    if (bare === "") return;
    const found = readLine(bare);
    if (typeof found === "string") faults.push({ line: i + 1, text: bare, why: found });
    else if (seen.has(found.rider.race_number)) faults.push({ line: i + 1, text: bare, why: "twice" });
    else {
      seen.add(found.rider.race_number);
      lines.push(found);
    }
  });
  return { lines, faults };
}

const figure = (text: string): number => Number(text.replace(",", "."));

function readLine(bare: string): RosterLine | RosterFault["why"] {
  const read = LINE.exec(bare);
  const [, number = "", name = "", mass = "", height, age, sex] = read ?? [];
  if (read === null) return "unreadable";
  const [raceNumber, massKg] = [Number(number), figure(mass)];
  const heightM = height === undefined ? DEFAULT_HEIGHT_M : figure(height) > 3 ? figure(height) / 100 : figure(height);
  const ageYears = age === undefined ? DEFAULT_AGE_YEARS : Number(age);
  if (raceNumber < 1) return "number";
  if (massKg < 30 || massKg > 150) return "mass";
  if (heightM < 1.2 || heightM > 2.3) return "height";
  if (ageYears < 16 || ageYears > 60) return "age";
  const id = `r-${raceNumber}`;
  const missing = [height === undefined ? "height" : "", age === undefined ? "age" : "", sex === undefined ? "sex" : ""] as const;
  return {
    rider: { id, name: name.trim(), race_number: raceNumber },
    body: { id, mass_kg: massKg, height_m: heightM, age_years: ageYears, sex: sex?.toLowerCase() === "f" ? "f" : "m" },
    defaults: missing.filter((one): one is "height" | "age" | "sex" => one !== ""),
  };
}

/** Drinks and foods most teams carry in some form (common practice, no source); the labels decide once they are typed. */
export const FIRST_DRINKS: readonly Drink[] = [
  { id: "d-water", name: "Water", short_name: "W", kind: "water", bottle_l: 0.5, sodium_mg_per_l: 0 },
  { id: "d-standard", name: "Standard mix", short_name: "S", kind: "standard", bottle_l: 0.5, sodium_mg_per_l: 800, carbohydrate_g_per_l: 70 },
  { id: "d-salty", name: "Salty mix", short_name: "N", kind: "high_sodium", bottle_l: 0.5, sodium_mg_per_l: 1500, carbohydrate_g_per_l: 60 },
];
export const FIRST_FOODS: readonly Food[] = [
  { id: "f-rice", name: "Rice cake", carbohydrate_g: 30, sodium_mg: 120, water_l: 0.03, mass_kg: 0.07 },
  { id: "f-gel", name: "Gel", carbohydrate_g: 30, sodium_mg: 40, water_l: 0.02, mass_kg: 0.06 },
];

const FEED_EVERY_KM = 45;
const LEAST_TO_FINISH_KM = 20;

/** The start, and a place to take bottles about every 45 km, none in the last 20 km; a first guess to be put right. */
export function firstFeeds(lengthKm: number, names: { start: string; feed: (n: number) => string }): FeedPoint[] {
  const feeds: FeedPoint[] = [{ id: "start", name: names.start, kind: "start", km: 0 }];
  for (let n = 1; n * FEED_EVERY_KM <= lengthKm - LEAST_TO_FINISH_KM; n += 1) {
    feeds.push({ id: `feed-${n}`, name: names.feed(n), kind: n % 2 === 0 ? "car" : "zone", km: n * FEED_EVERY_KM });
  }
  return feeds;
}

const KM_PER_DEG = 111.2;
const STEP_KM = 1;

/** A level road due north from a place: what stands in for a course until its file is there. */
export function straightCourse(lengthKm: number, latitudeDeg: number, longitudeDeg: number): CoursePoint[] {
  const n = Math.max(1, Math.round(lengthKm / STEP_KM));
  return Array.from({ length: n + 1 }, (_, i): CoursePoint => {
    const km = (lengthKm * i) / n;
    return [km, 100, Math.min(89, latitudeDeg + km / KM_PER_DEG), longitudeDeg];
  });
}

export interface PlainWeather {
  startC: number;
  warmestC: number;
  humidityFrac: number;
  windMPerS: number;
  cloudFrac: number;
}

const HOUR_MS = 3_600_000;
const WARMEST_AFTER_H = 3;

/** Hourly rows from an hour before the start to eight after, from a few figures; humidity falls as the air warms. */
export function plainForecast(startMs: number, weather: PlainWeather): ForecastRow[] {
  return Array.from({ length: 10 }, (_, i): ForecastRow => {
    const hour = i - 1;
    const share = Math.max(0, 1 - Math.abs(hour - WARMEST_AFTER_H) / (WARMEST_AFTER_H + 1));
    const c = weather.startC + (weather.warmestC - weather.startC) * Math.min(1, share * (4 / 3));
    const frac = weather.humidityFrac * Math.exp(-0.06 * (c - weather.startC));
    return {
      at_ms: startMs + hour * HOUR_MS, point: "start", km: 0, air_temperature_c: Math.round(c * 10) / 10,
      relative_humidity_frac: Math.min(1, Math.max(0.05, Math.round(frac * 100) / 100)), wind_m_per_s: weather.windMPerS, cloud_frac: weather.cloudFrac,
    };
  });
}

export interface FirstStage {
  name: string;
  kind: StageKind;
  startMs: number;
  timeZone: string;
}

export function firstStage(stage: FirstStage, course: CoursePoint[], feeds: FeedPoint[], forecast: ForecastRow[]): Stage {
  return {
    id: "stage-1", version: 0, number: 1, day_index: 1, name: stage.name, kind: stage.kind, start_at_ms: stage.startMs,
    time_zone: stage.timeZone, course, feed_points: feeds, forecast,
  };
}
