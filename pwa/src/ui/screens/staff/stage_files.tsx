import { useState } from "preact/hooks";

import { groundPath, thinned, ticks, xScale, yScale, type Frame, type Point } from "@/core/charts.ts";
import { celsius, decimal, stageDay, stageTime } from "@/core/display.ts";
import { STAGE_FIELDS } from "@/core/race_book.ts";
import { checked } from "@/core/sweat_day.ts";
import type { Stage } from "@/protocol/records.ts";
import { problemSentence, sendCourse, sendForecast } from "@/ui/screens/staff/acts.ts";
import { canEdit } from "@/ui/screens/staff/look.ts";
import { CourseDrawing } from "@/ui/screens/staff/course_drawing.tsx";
import { FileField } from "@/ui/screens/staff/file_field.tsx";
import { Answer, type Said, useWidth } from "@/ui/screens/staff/parts.tsx";
import { NoTrack } from "@/ui/screens/staff/stage_made.tsx";
import { ManualForecast } from "@/ui/screens/staff/stage_rules.tsx";
import { t } from "@/ui/words.ts";

interface PartProps {
  stage: Stage;
  onStage: (stage: Stage) => void;
}

/** The road: what is there, and a file to replace it. */
export function CoursePart({ stage, km0Text, onStage }: PartProps & { km0Text: string }) {
  const [said, setSaid] = useState<Said | null>(null);
  const take = async (file: File): Promise<void> => {
    setSaid({ text: t("staff.book.reading", { name: file.name }), isFault: false });
    try {
      const stored = await sendCourse(stage.id, file, checked(km0Text, STAGE_FIELDS.km0).value ?? 0);
      onStage(stored);
      setSaid({ text: t("staff.book.course_taken", { n: (stored.course ?? []).length }), isFault: false });
    } catch (problem) {
      setSaid({ text: problemSentence(problem), isFault: true });
    }
  };
  return (
    <section class="sx-panel" aria-labelledby="course-title">
      <h2 id="course-title">{t("staff.book.course")}</h2>
      {(stage.course ?? []).length > 1 ? <><CourseDrawing stage={stage} /><Profile stage={stage} /></> : <p>{t("staff.book.course_none")}</p>}
      {canEdit.value && <FileField id="gpx" label={t("staff.book.gpx")} accept=".gpx,application/gpx+xml" onFile={(file) => void take(file)} />}
      {canEdit.value && <NoTrack stage={stage} onStage={onStage} />}
      <Answer said={said} />
    </section>
  );
}

/** The weather: a table pasted or taken from a file. A table the server refuses stays in the field. */
export function ForecastPart({ stage, onStage }: PartProps) {
  const [table, setTable] = useState("");
  const [isLocal, setLocal] = useState(false);
  const [said, setSaid] = useState<Said | null>(null);
  const send = async (): Promise<void> => {
    if (table.trim() === "") {
      setSaid({ text: t("staff.book.forecast_empty"), isFault: true });
      return;
    }
    try {
      const stored = await sendForecast(stage.id, table, isLocal ? stage.time_zone : null);
      onStage(stored);
      setTable("");
      setSaid({ text: t("staff.book.forecast_taken", { n: (stored.forecast ?? []).length }), isFault: false });
    } catch (problem) {
      setSaid({ text: problemSentence(problem), isFault: true });
    }
  };
  return (
    <section class="sx-panel" aria-labelledby="forecast-title">
      <h2 id="forecast-title">{t("staff.book.forecast")}</h2>
      <ForecastSummary stage={stage} />
      {canEdit.value && (
        <>
          <div class="sx-field sx-full">
            <label for="forecast-table">{t("staff.book.forecast_paste")}</label>
            <textarea
              id="forecast-table" class="sx-code" rows={5} spellcheck={false} value={table} aria-describedby="forecast-hint" wrap="off"
              onInput={(event) => { setTable(event.currentTarget.value); setSaid(null); }}
            />
            <p class="sx-hint" id="forecast-hint">{t("staff.book.forecast_hint")}</p>
          </div>
          <label class="sx-tick">
            <input type="checkbox" checked={isLocal} onChange={(event) => setLocal(event.currentTarget.checked)} />
            {t("staff.book.forecast_local", { zone: stage.time_zone })}
          </label>
          <ManualForecast stage={stage} onStage={onStage} />
          <div class="sx-line">
            <FileField id="csv" label={t("staff.book.forecast_file")} accept=".csv,text/csv" onFile={(file) => void file.text().then(setTable)} />
            <button type="button" class="button button-quiet button-act" onClick={() => void send()}>{t("staff.book.forecast_send")}</button>
          </div>
        </>
      )}
      <Answer said={said} />
    </section>
  );
}

function ForecastSummary({ stage }: { stage: Stage }) {
  const rows = stage.forecast ?? [];
  const first = rows[0];
  const last = rows.at(-1);
  if (first === undefined || last === undefined) return <p>{t("staff.book.forecast_none")}</p>;
  const temperatures = rows.map((row) => row.air_temperature_c);
  return (
    <p>
      {t("staff.book.forecast_has", {
        n: rows.length, points: new Set(rows.map((row) => row.point ?? "start")).size, day: stageDay(first.at_ms, stage.time_zone),
        from: stageTime(Math.min(...rows.map((r) => r.at_ms)), stage.time_zone), to: stageTime(Math.max(...rows.map((r) => r.at_ms)), stage.time_zone),
        low: celsius(Math.min(...temperatures)), high: celsius(Math.max(...temperatures)),
      })}
    </p>
  );
}

const HEIGHT = 150;

/** The road from the side with its feed points. */
function Profile({ stage }: { stage: Stage }) {
  const [ref, width] = useWidth(480);
  const course = thinned(stage.course ?? [], 300);
  const km0 = stage.km0_km ?? 0;
  const frame: Frame = { width, height: HEIGHT, left: 62, right: 12, top: 22, bottom: 26 };
  const lastKm = (course.at(-1)?.[0] ?? 1) - km0;
  const elevations = course.map((p) => p[1]);
  const [low, high] = [Math.min(...elevations), Math.max(...elevations)];
  const x = xScale(frame, 0, lastKm);
  const y = yScale(frame, Math.min(low, high - 200), high);
  const base = HEIGHT - frame.bottom;
  const points = course.filter((p) => p[0] >= km0).map((p): Point => [x(p[0] - km0), y(p[1])]);
  return (
    <div ref={ref}>
      <svg class="sx-chart" viewBox={`0 0 ${width} ${HEIGHT}`} width={width} height={HEIGHT} role="img" aria-label={t("staff.book.profile", { km: decimal(lastKm, 0), low: decimal(low, 0), high: decimal(high, 0) })}>
        <path class="sx-ground" d={groundPath(points, base)} />
        <g class="sx-axes">
          {[low, high].map((m, i) => <text key={i} x={frame.left - 14} y={y(m) + 5} text-anchor="end">{decimal(m, 0)} m</text>)}
          {ticks(0, lastKm, 5).map((km) => <text key={km} x={x(km)} y={base + 19} text-anchor="middle">{km === 0 ? "km 0" : decimal(km, 0)}</text>)}
        </g>
        {(stage.feed_points ?? []).map((feed, i) => (
          <g class="sx-feed" key={feed.id}>
            <path d={`M${x(feed.km)} ${frame.top}V${base}`} />
            <circle cx={x(feed.km)} cy={frame.top - 10} r="10" />
            <text x={x(feed.km)} y={frame.top - 5} text-anchor="middle">{i + 1}</text>
          </g>
        ))}
      </svg>
    </div>
  );
}
