/** A course seen from above without a tile: degrees to a plane, the plane to the paper. */

import type { Point } from "@/core/charts.ts";
import type { CoursePoint } from "@/protocol/records.ts";

export interface CourseMap {
  path: Point[];
  /** A place on the road by kilometre from the first point of the file. */
  placeAt: (km: number) => Point;
  /** Length of one kilometre on the paper [px]. */
  pxPerKm: number;
}

const KM_PER_DEG = 111.2;

/** Fit a course into a box with a margin; north is up, and a kilometre is the same both ways. */
export function courseMap(course: readonly CoursePoint[], width: number, height: number, margin: number): CourseMap {
  const latitudes = course.map((p) => p[2]);
  const middle = (Math.min(...latitudes) + Math.max(...latitudes)) / 2;
  const shrink = Math.cos((middle * Math.PI) / 180);
  const plane = course.map((p): Point => [p[3] * KM_PER_DEG * shrink, -p[2] * KM_PER_DEG]);
  const [xs, ys] = [plane.map((p) => p[0]), plane.map((p) => p[1])];
  const [left, top] = [Math.min(...xs), Math.min(...ys)];
  const [wide, tall] = [Math.max(...xs) - left, Math.max(...ys) - top];
  const scale = Math.min((width - 2 * margin) / Math.max(wide, 0.1), (height - 2 * margin) / Math.max(tall, 0.1));
  const [dx, dy] = [(width - wide * scale) / 2, (height - tall * scale) / 2];
  const path = plane.map(([x, y]): Point => [dx + (x - left) * scale, dy + (y - top) * scale]);
  return { path, placeAt: (km) => placeOn(course, path, km), pxPerKm: scale };
}

const NAME_HALF_PX = 28;

/** Where the name of an end stands, middle and baseline: on the side the road does not take, and inside the drawing. */
export function nameAt([x, y]: Point, path: readonly Point[], width: number): Point {
  const beside = path.filter((p) => Math.abs(p[0] - x) < NAME_HALF_PX + 8 && Math.abs(p[1] - y) < 40);
  const isRoadAbove = beside.reduce((sum, p) => sum + Math.sign(p[1] - y), 0) < 0;
  return [Math.min(Math.max(x, NAME_HALF_PX), width - NAME_HALF_PX), isRoadAbove ? y + 28 : y - 14];
}

function placeOn(course: readonly CoursePoint[], path: readonly Point[], km: number): Point {
  const after = course.findIndex((p) => p[0] >= km);
  const [right, left] = [path[after], path[after - 1]];
  if (right === undefined) return path.at(-1) ?? [0, 0];
  if (left === undefined) return right;
  const [a, b] = [course[after - 1]?.[0] ?? 0, course[after]?.[0] ?? 0];
  const share = b === a ? 0 : (km - a) / (b - a);
  return [left[0] + share * (right[0] - left[0]), left[1] + share * (right[1] - left[1])];
}

/** A round length for a scale bar, at most a third of the width [km]. */
export function scaleBarKm(pxPerKm: number, width: number): number {
  const most = width / 3 / pxPerKm;
  return [100, 50, 20, 10, 5, 2, 1].find((km) => km <= most) ?? 1;
}
