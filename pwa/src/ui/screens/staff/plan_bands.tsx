import type { ComponentChildren } from "preact";

import { bandPath, linePath, thinned, ticks, xScale, yScale, type Frame, type Point } from "@/core/charts.ts";
import { decimal } from "@/core/display.ts";
import { deficitBand, plasmaBand, type BandPoint } from "@/core/plan_bands.ts";
import type { StageForecast, StagePlan } from "@/protocol/records.ts";
import { Why } from "@/ui/parts/why.tsx";
import { seesMass } from "@/ui/screens/staff/look.ts";
import { useWidth } from "@/ui/screens/staff/parts.tsx";
import { t } from "@/ui/words.ts";

const HEIGHT = 170;

/** Two more bands over the same road: what is owed, and blood sodium with the limits the plan holds. */
export function PlanBands({ forecast, plan }: { forecast: StageForecast; plan: StagePlan }) {
  if (plan.along.length === 0) return null;
  const owed = thinned(deficitBand(forecast, plan), 120);
  const plasma = plasmaBand(plan);
  return (
    <div class="sx-plan-notes">
      <Band title={t("staff.bands.owed")} points={owed} unit="L" digits={1} marks={[{ at: 0, words: t("staff.bands.even") }]} note={t("staff.bands.owed_note")}>
        <Why of={forecast} label={t("staff.bands.why_loss")} />
        <Why of={plan} label={t("staff.bands.why_drink")} />
      </Band>
      {seesMass.value && (
        <Band
          title={t("staff.bands.plasma")} points={plasma} unit="mmol/L" digits={0} note={t("staff.bands.plasma_note")}
          marks={[{ at: 138, words: t("staff.bands.floor") }, { at: 148, words: t("staff.bands.ceiling") }]}
        >
          <Why of={plan} label={t("staff.bands.why_sodium")} />
        </Band>
      )}
    </div>
  );
}

interface BandProps {
  title: string;
  points: readonly BandPoint[];
  unit: string;
  digits: number;
  marks: readonly { at: number; words: string }[];
  note: string;
  children: ComponentChildren;
}

function Band({ title, points, unit, digits, marks, note, children }: BandProps) {
  const [ref, width] = useWidth(440);
  const frame: Frame = { width, height: HEIGHT, left: 46, right: 12, top: 10, bottom: 28 };
  const values = [...points.flatMap((point) => [point.low, point.high]), ...marks.map((mark) => mark.at)];
  const pad = (Math.max(...values) - Math.min(...values)) * 0.06 || 1;
  const [low, high] = [Math.min(...values) - pad, Math.max(...values) + pad];
  const lastKm = points.at(-1)?.km ?? 1;
  const [x, y] = [xScale(frame, 0, lastKm), yScale(frame, low, high)];
  const of = (pick: (point: BandPoint) => number): Point[] => points.map((point) => [x(point.km), y(pick(point))]);
  const end = points.at(-1);
  const said = end === undefined ? title : t("staff.bands.said", { title, low: decimal(end.low, digits), high: decimal(end.high, digits), unit });
  return (
    <section>
      <h3>{title}</h3>
      <figure class="sx-figure-box">
        <div ref={ref}>
          <svg class="sx-chart" viewBox={`0 0 ${width} ${HEIGHT}`} width={width} height={HEIGHT} role="img" aria-label={said}>
            <g class="sx-axes">
              {ticks(low, high, 4).map((mark) => <g key={mark}><path d={`M${frame.left} ${y(mark)}H${width - frame.right}`} /><text x={frame.left - 6} y={y(mark) + 5} text-anchor="end">{decimal(mark, digits)}</text></g>)}
              {ticks(0, lastKm, 4).map((km) => <text key={km} x={x(km)} y={HEIGHT - 8} text-anchor="middle">{km === 0 ? "km 0" : decimal(km, 0)}</text>)}
            </g>
            <path class="sx-band sx-band-calm" d={bandPath(of((p) => p.high), of((p) => p.low))} />
            <path class="sx-band-edge sx-band-calm-edge" d={linePath(of((p) => p.high)) + linePath(of((p) => p.low))} />
            {marks.map((mark) => (
              <g key={mark.at} class="sx-limit"><path d={`M${frame.left} ${y(mark.at)}H${width - frame.right}`} /><text x={width - frame.right} y={y(mark.at) - 5} text-anchor="end">{mark.words}</text></g>
            ))}
          </svg>
        </div>
        <figcaption class="sx-quiet">{said} {note}</figcaption>
        {children}
        <details>
          <summary>{t("staff.table_twin")}</summary>
          <table class="sx-table">
            <thead><tr><th scope="col" class="sx-num">km</th><th scope="col" class="sx-num">{t("staff.bands.low")}</th><th scope="col" class="sx-num">{t("staff.bands.high")}</th></tr></thead>
            <tbody>{thinned(points, 12).map((point) => <tr key={point.km}><th scope="row" class="sx-num">{decimal(point.km, 0)}</th><td class="sx-num">{decimal(point.low, digits)}</td><td class="sx-num">{decimal(point.high, digits)}</td></tr>)}</tbody>
          </table>
        </details>
      </figure>
    </section>
  );
}
