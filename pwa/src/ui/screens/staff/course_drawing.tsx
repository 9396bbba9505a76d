import { linePath, thinned } from "@/core/charts.ts";
import { courseMap, nameAt, scaleBarKm } from "@/core/course_map.ts";
import type { Stage } from "@/protocol/records.ts";
import { useWidth } from "@/ui/screens/staff/parts.tsx";
import { t } from "@/ui/words.ts";

const HEIGHT = 240;

/** The course from above, drawn from its own points: start, finish, feed points, north and a scale; no tile is asked for. */
export function CourseDrawing({ stage }: { stage: Stage }) {
  const [ref, width] = useWidth(480);
  const course = thinned(stage.course ?? [], 400);
  const map = courseMap(course, width, HEIGHT, 30);
  const km0 = stage.km0_km ?? 0;
  const [start, finish] = [map.placeAt(km0), map.placeAt(Infinity)];
  const [atStart, atFinish] = [nameAt(start, map.path, width), nameAt(finish, map.path, width)];
  const barKm = scaleBarKm(map.pxPerKm, width);
  const barPx = barKm * map.pxPerKm;
  return (
    <div ref={ref}>
      <svg class="sx-chart sx-map" viewBox={`0 0 ${width} ${HEIGHT}`} width={width} height={HEIGHT} role="img" aria-label={t("staff.map.said", { n: (stage.feed_points ?? []).length })}>
        <path class="sx-map-edge" d={linePath(map.path)} />
        <path class="sx-map-road" d={linePath(map.path)} />
        {(stage.feed_points ?? []).filter((feed) => feed.kind !== "start").map((feed, i) => {
          const [x, y] = map.placeAt(feed.km + km0);
          return <g class="sx-feed" key={feed.id}><circle cx={x} cy={y} r="10" /><text x={x} y={y + 5} text-anchor="middle">{i + 2}</text></g>;
        })}
        <g class="sx-map-ends">
          <rect x={start[0] - 6} y={start[1] - 6} width="12" height="12" /><text x={atStart[0]} y={atStart[1]} text-anchor="middle">{t("staff.map.start")}</text>
          <path d={`M${finish[0]} ${finish[1] - 9}l9 9l-9 9l-9 -9Z`} /><text x={atFinish[0]} y={atFinish[1]} text-anchor="middle">{t("staff.map.finish")}</text>
        </g>
        <g class="sx-map-scale">
          <path d={`M12 ${HEIGHT - 14}v6h${barPx}v-6`} /><text x={16 + barPx} y={HEIGHT - 8}>{barKm} km</text>
          <path d={`M${width - 16} 34V12m-5 7l5 -7l5 7`} /><text x={width - 16} y="50" text-anchor="middle">{t("staff.map.north")}</text>
        </g>
      </svg>
    </div>
  );
}
