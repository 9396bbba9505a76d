import { linePath, medianOfThree, sparkline, ticks, xScale, yScale, type Frame, type Point } from "@/core/charts.ts";
import { decimal, kilograms, litres, percent, stageDay } from "@/core/display.ts";
import { againstOwnLine } from "@/core/three_weeks.ts";
import type { FactEvent, MorningCheckBody, Rider, RiderBody, RiderProfile, Settlement, SettlementSummary, Stage } from "@/protocol/records.ts";
import { doc, docsOf, folded, session, stages } from "@/store/state.ts";
import { Why } from "@/ui/parts/why.tsx";
import { go, href, route } from "@/ui/route.ts";
import { raced, riders, riderTitle, seesMass } from "@/ui/screens/staff/look.ts";
import { Flags, Head, NothingYet, useWidth } from "@/ui/screens/staff/parts.tsx";
import { RiderLimits } from "@/ui/screens/staff/rider_limits.tsx";
import { ProfileFigures } from "@/ui/screens/staff/sweat_day.tsx";
import { testDays } from "@/ui/screens/staff/sweat_result.tsx";
import { cellsOf, wordsOf } from "@/ui/screens/staff/three_weeks.tsx";
import { t } from "@/ui/words.ts";

/** One rider's book: tests, factor, sodium, mass, mornings, and every forecast against the scales. */
export function RiderScreen() {
  const rider = riders.value.find((one) => one.id === route.value.args[0]) ?? riders.value[0];
  if (rider === undefined) return <main class="sx"><Head title={t("staff.rider")} /><NothingYet /></main>;
  const profile = doc<RiderProfile>(`profile:${rider.id}`);
  return (
    <main class="sx sx-rider">
      <Head title={riderTitle(rider)} said={wordsOf(cellsOf(rider))}>
        <label class="sx-picker"><span>{t("staff.rider")}</span>
          <select value={rider.id} onChange={(event) => go("rider", event.currentTarget.value)}>{riders.value.map((one) => <option key={one.id} value={one.id}>{riderTitle(one)}</option>)}</select>
        </label>
      </Head>
      {profile !== null && (profile.flags ?? []).length > 0 && <Flags flags={profile.flags ?? []} />}
      <div class="sx-plan-notes">
        <section><h2>{t("staff.rider_page.forecasts")}</h2><Forecasts rider={rider} /></section>
        {seesMass.value && <section><h2>{t("staff.rider_page.mass")}</h2><Masses rider={rider} /></section>}
        {seesMass.value && profile !== null && <section><h2>{t("staff.rider_page.known")}</h2><ProfileFigures profile={profile} /><Why of={profile} /><Tests rider={rider} /></section>}
        {seesMass.value && <section><h2>{t("staff.rider_page.mornings")}</h2><Mornings rider={rider} /></section>}
        {seesMass.value && <RiderLimits rider={rider} />}
      </div>
    </main>
  );
}

interface Told {
  stage: Stage;
  lowL: number | null;
  highL: number | null;
  midL: number | null;
  sweatL: number | null;
}

function told(rider: Rider): Told[] {
  return raced.value.flatMap((stage) => {
    const full = doc<Settlement>(`settlement:${rider.id}:${stage.id}`);
    const one: Settlement | SettlementSummary | null = full ?? doc<SettlementSummary>(`settlement_summary:${rider.id}:${stage.id}`);
    if (one === null) return [];
    return [{ stage, lowL: full?.predicted_q10_l ?? null, highL: full?.predicted_q90_l ?? null, midL: full?.predicted_q50_l ?? null, sweatL: one.sweat_loss_l ?? null }];
  });
}

const HEIGHT = 220;

/** What was expected of each stage as a bar, what the scales said as a mark: inside, or on which side. */
function Forecasts({ rider }: { rider: Rider }) {
  const [ref, width] = useWidth(560);
  const rows = told(rider).filter((row) => row.midL !== null);
  if (rows.length === 0) return <p>{t("staff.rider_page.none")}</p>;
  const top = Math.max(...rows.map((row) => Math.max(row.highL ?? 0, row.sweatL ?? 0))) * 1.05;
  const frame: Frame = { width, height: HEIGHT, left: 40, right: 12, top: 12, bottom: 30 };
  const x = xScale(frame, 0.5, rows.length + 0.5);
  const y = yScale(frame, 0, top);
  return (
    <figure>
      <div ref={ref}>
        <svg class="sx-chart" viewBox={`0 0 ${width} ${HEIGHT}`} width={width} height={HEIGHT} role="img" aria-label={t("staff.rider_page.forecasts_said", { n: rows.length, inside: rows.filter(isInside).length })}>
          <g class="sx-axes">
            {ticks(0, top, 5).map((mark) => <g key={mark}><path d={`M${frame.left} ${y(mark)}H${width - frame.right}`} /><text x={frame.left - 6} y={y(mark) + 5} text-anchor="end">{mark}</text></g>)}
            {rows.map((row, i) => <text key={row.stage.id} x={x(i + 1)} y={HEIGHT - 10} text-anchor="middle">{row.stage.number}</text>)}
          </g>
          {rows.map((row, i) => (
            <g key={row.stage.id}>
              <path class="sx-bar" d={`M${x(i + 1)} ${y(row.lowL ?? 0)}V${y(row.highL ?? 0)}`} />
              <path class="sx-bar-mid" d={`M${x(i + 1) - 7} ${y(row.midL ?? 0)}h14`} />
              {row.sweatL !== null && <rect class={isInside(row) ? "sx-scale-in" : "sx-scale-out"} x={x(i + 1) - 5} y={y(row.sweatL) - 5} width="10" height="10" />}
            </g>
          ))}
        </svg>
      </div>
      <figcaption class="sx-quiet">{t("staff.rider_page.forecasts_key")}</figcaption>
      <details>
        <summary>{t("staff.table_twin")}</summary>
        <div class="sx-scroll" tabIndex={0} role="region" aria-label={t("staff.rider_page.forecasts")}>
          <table class="sx-table"><thead><tr><th scope="col">{t("staff.stage")}</th><th scope="col">{t("staff.settle.expected")}</th><th scope="col" class="sx-num">{t("staff.rider_page.scales")}</th></tr></thead>
            <tbody>{rows.map((row) => (
              <tr key={row.stage.id}><th scope="row">{row.stage.number}</th><td>{t("staff.range_l", { low: decimal(row.lowL ?? 0, 1), high: decimal(row.highL ?? 0, 1) })}</td><td class="sx-num">{row.sweatL === null ? "—" : litres(row.sweatL)}</td></tr>
            ))}</tbody></table>
        </div>
      </details>
    </figure>
  );
}

const isInside = (row: Told): boolean => row.sweatL !== null && row.sweatL >= (row.lowL ?? 0) && row.sweatL <= (row.highL ?? 0);

function massPoints(rider: Rider): { label: string; kg: number | null }[] {
  const mornings = [...folded.value.live.values()].filter((e) => e.kind === "morning_check" && e.subject_id === rider.id);
  return stages.value.map((stage) => {
    const morning = mornings.find((event) => event.stage_id === stage.id)?.body as MorningCheckBody | undefined;
    return { label: stage.kind === "rest" ? "·" : String(stage.number), kg: morning?.mass_kg ?? doc<Settlement>(`settlement:${rider.id}:${stage.id}`)?.mass_before_kg ?? null };
  });
}

/** Body mass against the rider's own line, with the band of one percent in which mornings come and go. */
function Masses({ rider }: { rider: Rider }) {
  const [ref, width] = useWidth(560);
  const points = massPoints(rider);
  const line = againstOwnLine(points.map((point) => point.kg));
  const known = line.filter((value): value is number => value !== null);
  if (known.length < 2) return <p>{t("staff.rider_page.no_mass")}</p>;
  const reach = Math.max(0.025, ...known.map(Math.abs));
  const frame: Frame = { width, height: 180, left: 56, right: 12, top: 12, bottom: 30 };
  const x = xScale(frame, 0, Math.max(1, points.length - 1));
  const y = yScale(frame, -reach, reach);
  const raw = line.flatMap((value, i): Point[] => (value === null ? [] : [[x(i), y(value)]]));
  return (
    <figure>
      <div ref={ref}>
        <svg class="sx-chart" viewBox={`0 0 ${width} 180`} width={width} height={180} role="img" aria-label={t("staff.weeks.mass_said", { percent: percent(known.at(-1) ?? 0) })}>
          <rect class="sx-norm" x={frame.left} width={width - frame.left - frame.right} y={y(0.01)} height={y(-0.01) - y(0.01)} />
          <g class="sx-axes">
            {[-0.02, -0.01, 0, 0.01, 0.02].filter((mark) => Math.abs(mark) <= reach).map((mark) => <g key={mark}><path d={`M${frame.left} ${y(mark)}H${width - frame.right}`} /><text x={frame.left - 6} y={y(mark) + 5} text-anchor="end">{percent(mark)}</text></g>)}
            {points.map((point, i) => (i % (width < 420 ? 3 : 1) === 0 ? <text key={i} x={x(i)} y={170} text-anchor="middle">{point.label}</text> : null))}
          </g>
          <path class="sx-spark-raw" d={linePath(raw)} />
          <path class="sx-spark-line" d={sparkline(medianOfThree(line), frame, -reach, reach)} />
          {raw.map(([px, py]) => <circle key={px} class="sx-arm-left" cx={px} cy={py} r="3.5" />)}
        </svg>
      </div>
      <figcaption class="sx-quiet">{t("staff.rider_page.mass_key", { kg: kilograms(doc<RiderBody>(`rider_body:${rider.id}`)?.mass_kg ?? points.find((point) => point.kg !== null)?.kg ?? 0) })}</figcaption>
    </figure>
  );
}

function Mornings({ rider }: { rider: Rider }) {
  const checks = ([...folded.value.live.values()].filter((e) => e.kind === "morning_check" && e.subject_id === rider.id) as FactEvent<MorningCheckBody>[]).sort((a, b) => b.at_ms - a.at_ms);
  const zone = session.value?.team.time_zone ?? "Europe/Paris";
  if (checks.length === 0) return <p>{t("staff.rider_page.no_mornings")}</p>;
  return (
    <div class="sx-scroll" tabIndex={0} role="region" aria-label={t("staff.rider_page.mornings")}>
      <table class="sx-table">
        <thead><tr><th scope="col">{t("staff.result.day")}</th><th scope="col" class="sx-num">kg</th><th scope="col" class="sx-num">{t("staff.rider_page.colour")}</th><th scope="col" class="sx-num">{t("staff.rider_page.thirst")}</th><th scope="col" class="sx-num">{t("staff.rider_page.slept")}</th><th scope="col">{t("staff.rider_page.ill")}</th></tr></thead>
        <tbody>{checks.slice(0, 10).map(({ id, at_ms: atMs, body }) => (
          <tr key={id}><th scope="row">{stageDay(atMs, zone)}</th><td class="sx-num">{decimal(body.mass_kg, 1)}</td><td class="sx-num">{body.urine_colour ?? "—"}</td><td class="sx-num">{body.thirst ?? "—"}</td><td class="sx-num">{body.sleep_h === undefined ? "—" : `${decimal(body.sleep_h, 1)} h`}</td><td>{body.is_ill === true ? t("staff.rider_page.ill_yes") : ""}</td></tr>
        ))}</tbody>
      </table>
    </div>
  );
}

function Tests({ rider }: { rider: Rider }) {
  const days = testDays(rider.id);
  return (
    <p>
      {t("staff.rider_page.tests", { n: days.length, rides: [...folded.value.live.values()].filter((e) => e.kind === "weighed_ride" && e.subject_id === rider.id).length, settled: docsOf("settlement").filter((one) => one.rider_id === rider.id && one.state === "settled").length })}{" "}
      <a class="sx-back" href={href("sweat-day", "result", rider.id)}>{t("staff.sweat.leaf_result")}</a>
    </p>
  );
}
