/** Stage-local wall time and UTC instants, by the browser's own zone tables. */

const PARTS = {
  year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", second: "2-digit",
  hourCycle: "h23",
} as const;

function wallAsUtcMs(atMs: number, timeZone: string): number {
  const parts = new Intl.DateTimeFormat("en-GB", { ...PARTS, timeZone }).formatToParts(atMs);
  const of = (type: string): number => Number(parts.find((part) => part.type === type)?.value ?? 0);
  return Date.UTC(of("year"), of("month") - 1, of("day"), of("hour"), of("minute"), of("second"));
}

/** "2026-07-04T12:40" as read on a wall in the zone. */
export function wallTime(atMs: number, timeZone: string): string {
  return new Date(wallAsUtcMs(atMs, timeZone)).toISOString().slice(0, 16);
}

/** The instant of a wall time; an hour that a clock change skips moves forward. */
export function instantOf(wall: string, timeZone: string): number | null {
  const read = /^(\d{4}-\d{2}-\d{2})T(\d{1,2}):(\d{2})$/.exec(wall.trim());
  if (read === null) return null;
  const asUtc = Date.parse(`${read[1]}T${String(read[2]).padStart(2, "0")}:${read[3]}:00Z`);
  if (Number.isNaN(asUtc)) return null;
  const first = asUtc - (wallAsUtcMs(asUtc, timeZone) - asUtc);
  return asUtc - (wallAsUtcMs(first, timeZone) - first);
}

export function isTimeZone(name: string): boolean {
  try {
    new Intl.DateTimeFormat("en-GB", { timeZone: name });
    return name !== "";
  } catch {
    return false;
  }
}
