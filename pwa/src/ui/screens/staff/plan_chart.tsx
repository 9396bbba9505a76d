import {
  bandPath, ceiling, groundPath, linePath, stepPath, thinned, ticks, xScale, yScale, type Frame, type Point,
} from "@/core/charts.ts";
import { decimal, litres } from "@/core/display.ts";
import type { Drink, ForecastSummary, PlanSummary } from "@/protocol/records.ts";
import { useWidth } from "@/ui/screens/staff/parts.tsx";
import { t } from "@/ui/words.ts";

const HEIGHT = 300;
const GROUND_SHARE = 0.28;
const MOST_POINTS = 240;

/** What the chart needs of a plan, whole or summed up. */
export type ChartPlan = Pick<PlanSummary, "steps" | "water_l"> & { along: readonly (readonly [km: number, intakeL: number, ...rest: number[]])[] };

type ChartForecast = Pick<ForecastSummary, "along" | "sweat_q10_l" | "sweat_q50_l" | "sweat_q90_l">;

interface ChartProps {
  forecast: ChartForecast;
  plan: ChartPlan;
  drinks: readonly Drink[];
}

/** Loss as a band over the road, planned intake under it, and the feed points where bottles change hands. */
export function PlanChart({ forecast, plan, drinks }: ChartProps) {
  const [ref, width] = useWidth(680);
  const along = thinned(forecast.along, MOST_POINTS);
  const lastKm = along.at(-1)?.[0] ?? 1;
  const frame: Frame = { width, height: HEIGHT, left: 44, right: width < 480 ? 12 : 112, top: 26, bottom: 30 };
  const topL = ceiling(Math.max(forecast.along.at(-1)?.[5] ?? 1, plan.water_l, handedOver(plan, drinks).at(-1)?.[1] ?? 0), 5);
  const x = xScale(frame, 0, lastKm);
  const y = yScale(frame, 0, topL);
  const at = (km: number, l: number): Point => [x(km), y(l)];
  const upper = along.map((p) => at(p[0], p[5]));
  const lower = along.map((p) => at(p[0], p[3]));
  const intake = [at(0, 0), ...plan.along.map((p) => at(p[0], p[1]))];
  const handed = [at(0, 0), ...handedOver(plan, drinks).map(([km, l]) => at(km, l)), at(lastKm, handedOver(plan, drinks).at(-1)?.[1] ?? 0)];
  return (
    <figure class="sx-figure-box">
      <div ref={ref}>
        <svg class="sx-chart" viewBox={`0 0 ${width} ${HEIGHT}`} width={width} height={HEIGHT} role="img" aria-label={chartLabel(forecast, plan)}>
          <path class="sx-ground" d={ground(along, frame, x)} />
          <Axes frame={frame} x={x} y={y} topL={topL} lastKm={lastKm} />
          <path class="sx-band" d={bandPath(upper, lower)} />
          <path class="sx-band-edge" d={linePath(upper) + linePath(lower)} />
          <path class="sx-median" d={linePath(along.map((p) => at(p[0], p[4])))} />
          <path class="sx-handed" d={stepPath(handed)} />
          <path class="sx-intake" d={linePath(intake)} />
          {plan.steps.map((step, i) => <FeedTick key={step.feed_id + step.km} x={x(step.km)} frame={frame} letter={String(i + 1)} />)}
          {width >= 480 && <EndLabels forecast={forecast} plan={plan} frame={frame} y={y} handedL={handedOver(plan, drinks).at(-1)?.[1] ?? 0} />}
        </svg>
      </div>
      <figcaption class="sx-key">
        <span><i class="sx-key-band" /> {t("staff.plans.key_loss")}</span>
        <span><i class="sx-key-intake" /> {t("staff.plans.key_intake")}</span>
        <span><i class="sx-key-handed" /> {t("staff.plans.key_handed")}</span>
      </figcaption>
    </figure>
  );
}

function chartLabel(forecast: ChartForecast, plan: ChartPlan): string {
  return t("staff.plans.chart", {
    low: litres(forecast.sweat_q10_l), high: litres(forecast.sweat_q90_l), drunk: litres(plan.water_l), n: plan.steps.length,
  });
}

/** Litres given out so far, feed point by feed point. */
export function handedOver(plan: ChartPlan, drinks: readonly Drink[]): Point[] {
  const bottleL = new Map(drinks.map((drink) => [drink.id, drink.bottle_l ?? 0.5]));
  let total = 0;
  return plan.steps.map((step): Point => {
    for (const [id, n] of Object.entries(step.bottles)) total += n * (bottleL.get(id) ?? 0.5);
    return [step.km, total];
  });
}

function ground(along: ForecastSummary["along"], frame: Frame, x: (km: number) => number): string {
  const elevations = along.map((p) => p[1]);
  const low = Math.min(...elevations);
  const high = Math.max(...elevations, low + 200);
  const base = frame.height - frame.bottom;
  const tall = (base - frame.top) * GROUND_SHARE;
  return groundPath(along.map((p): Point => [x(p[0]), base - 6 - ((p[1] - low) / (high - low)) * tall]), base);
}

interface AxesProps {
  frame: Frame;
  x: (km: number) => number;
  y: (l: number) => number;
  topL: number;
  lastKm: number;
}

function Axes({ frame, x, y, topL, lastKm }: AxesProps) {
  const right = frame.width - frame.right;
  const base = frame.height - frame.bottom;
  return (
    <g class="sx-axes">
      {ticks(0, topL, 5).map((l) => (
        <g key={l}>
          <path d={`M${frame.left} ${y(l)}H${right}`} />
          <text x={frame.left - 8} y={y(l) + 5} text-anchor="end">{decimal(l, topL < 3 ? 1 : 0)}{l === topL ? " L" : ""}</text>
        </g>
      ))}
      {ticks(0, lastKm, frame.width < 480 ? 4 : 8).map((km) => (
        <text key={km} x={x(km)} y={base + 20} text-anchor="middle">{km === 0 ? "km 0" : decimal(km, 0)}</text>
      ))}
    </g>
  );
}

function FeedTick({ x, frame, letter }: { x: number; frame: Frame; letter: string }) {
  return (
    <g class="sx-feed">
      <path d={`M${x} ${frame.top}V${frame.height - frame.bottom}`} />
      <circle cx={x} cy={frame.top - 11} r="10" />
      <text x={x} y={frame.top - 6} text-anchor="middle">{letter}</text>
    </g>
  );
}

interface EndProps {
  forecast: ChartForecast;
  plan: ChartPlan;
  frame: Frame;
  y: (l: number) => number;
  handedL: number;
}

/** Names at the end of the lines, pushed apart where they would cover each other. */
function EndLabels({ forecast, plan, frame, y, handedL }: EndProps) {
  const drunkL = plan.along.at(-1)?.[1] ?? plan.water_l;
  const wanted = [
    { text: t("staff.plans.end_loss", { l: litres(forecast.sweat_q50_l) }), y: y(forecast.sweat_q50_l) },
    { text: t("staff.plans.end_handed", { l: litres(handedL) }), y: y(handedL) },
    { text: t("staff.plans.end_drunk", { l: litres(drunkL) }), y: y(drunkL) },
  ].sort((a, b) => a.y - b.y);
  let floor = -Infinity;
  const placed = wanted.map((label) => {
    floor = Math.max(label.y, floor + 18);
    return { ...label, y: floor };
  });
  const over = Math.max(0, (placed.at(-1)?.y ?? 0) - (frame.height - frame.bottom - 4));
  return (
    <g class="sx-end">
      {placed.map((label) => (
        <text key={label.text} x={frame.width - frame.right + 8} y={label.y - over + 5}>{label.text}</text>
      ))}
    </g>
  );
}
