import { linePath, xScale, yScale, type Frame, type Point } from "@/core/charts.ts";
import { decimal, stageDay, sweatSodium } from "@/core/display.ts";
import { pairQuality, saltierOf100 } from "@/core/sweat_day.ts";
import type { FactEvent, Rider, RiderProfile, SweatSampleBody } from "@/protocol/records.ts";
import { doc, folded, session } from "@/store/state.ts";
import { Button } from "@/ui/parts/button.tsx";
import { useWidth } from "@/ui/screens/staff/parts.tsx";
import { PocketRuleText } from "@/ui/screens/staff/pocket_rule.tsx";
import { t } from "@/ui/words.ts";

/** One collection day of one rider: the mean of its arms, as read. */
export interface TestDay {
  atMs: number;
  arms: readonly { side: string; mmol: number }[];
  meanMmol: number;
}

const DAY_MS = 86_400_000;

export function testDays(riderId: string): TestDay[] {
  const samples = [...folded.value.live.values()].filter((e) => e.kind === "sweat_sample" && e.subject_id === riderId) as FactEvent<SweatSampleBody>[];
  const byDay = new Map<number, FactEvent<SweatSampleBody>[]>();
  for (const sample of samples.sort((a, b) => a.at_ms - b.at_ms)) {
    const day = Math.floor((sample.at_ms + (sample.tz_min ?? 0) * 60_000) / DAY_MS);
    byDay.set(day, [...(byDay.get(day) ?? []), sample]);
  }
  return [...byDay.values()].map((of) => {
    const arms = of.map((one) => ({ side: one.body.side, mmol: one.body.sodium_mmol_per_l }));
    return { atMs: of[0]?.at_ms ?? 0, arms, meanMmol: arms.reduce((sum, arm) => sum + arm.mmol, 0) / arms.length };
  });
}

/** What a rider takes home: his sweat in plain words, a rule for the pocket, and what it does not say. */
export function SweatResult({ rider }: { rider: Rider }) {
  const profile = doc<RiderProfile>(`profile:${rider.id}`);
  const days = testDays(rider.id);
  const last = days.at(-1);
  const zone = session.value?.team.time_zone ?? "Europe/Paris";
  return (
    <article class="sx-panel sx-result" aria-labelledby="result-title">
      <h2 id="result-title">{t("staff.result.title", { rider: rider.name })}</h2>
      {last === undefined || profile === null ? <p>{t("staff.result.none")}</p> : (
        <>
          <p class="sx-lead">{t("staff.result.lead", { level: t(`staff.result.${levelOf(profile.sodium_mean_mmol_per_l)}`), sodium: sweatSodium(profile.sodium_mean_mmol_per_l) })}</p>
          <p>{t("staff.result.range", { low: sweatSodium(profile.sodium_low_mmol_per_l), high: sweatSodium(profile.sodium_high_mmol_per_l) })}</p>
          <p>{t("staff.result.others", { n: saltierOf100(last.meanMmol) })}</p>
          <h3>{t("staff.pocket.title")}</h3>
          {profile.pocket_rule ? <PocketRuleText rule={profile.pocket_rule} /> : <p>{t("staff.pocket.none")}</p>}
          <h3>{t("staff.result.history")}</h3>
          <History days={days} zone={zone} />
          <p>{historyText(days)}</p>
          <h3>{t("staff.result.means")}</h3>
          <ul class="sx-plain"><li>{t("staff.result.not_how_much")}</li><li>{t("staff.result.not_more")}</li><li>{t("staff.result.heat")}</li><li>{t("staff.result.physician")}</li></ul>
          <p class="sx-quiet">{t("staff.result.source")}</p>
          <p class="sx-acts-line"><Button kind="quiet" onPress={() => print()}>{t("staff.print")}</Button></p>
        </>
      )}
    </article>
  );
}

/** The trade's words: 700–800 mg/L is what professional stage racers average (common practice, no source). */
function levelOf(mmol: number): "level_low" | "level_usual" | "level_high" | "level_very" {
  const mg = mmol * 22.98977;
  if (mg < 500) return "level_low";
  if (mg < 1000) return "level_usual";
  return mg < 1500 ? "level_high" : "level_very";
}

function historyText(days: readonly TestDay[]): string {
  const [before, last] = [days.at(-2), days.at(-1)];
  if (before === undefined || last === undefined) return t("staff.result.first");
  const pair = pairQuality(Math.max(1, before.meanMmol), Math.max(1, last.meanMmol));
  const change = { before: sweatSodium(before.meanMmol), after: sweatSodium(last.meanMmol) };
  return pair.code === "agree" ? t("staff.result.steady", change) : t("staff.result.moved", change);
}

const HEIGHT = 170;
const SPAN = [0, 105] as const;

/** Each test day beside the span that athletes show; both arms stand apart. */
function History({ days, zone }: { days: readonly TestDay[]; zone: string }) {
  const [ref, width] = useWidth(480);
  const frame: Frame = { width, height: HEIGHT, left: 46, right: 16, top: 14, bottom: 28 };
  const x = xScale(frame, -0.5, Math.max(0.5, days.length - 0.5));
  const y = yScale(frame, SPAN[0], SPAN[1]);
  const line = days.map((day, i): Point => [x(i), y(day.meanMmol)]);
  return (
    <figure>
      <div ref={ref}>
        <svg class="sx-chart" viewBox={`0 0 ${width} ${HEIGHT}`} width={width} height={HEIGHT} role="img" aria-label={days.map((day) => `${stageDay(day.atMs, zone)}: ${decimal(day.meanMmol, 0)} mmol/L`).join(", ")}>
          <rect class="sx-norm" x={frame.left} width={width - frame.left - frame.right} y={y(65)} height={y(24) - y(65)} />
          <g class="sx-axes">
            {[0, 25, 50, 75, 100].map((mark) => <g key={mark}><path d={`M${frame.left} ${y(mark)}H${width - frame.right}`} /><text x={frame.left - 6} y={y(mark) + 5} text-anchor="end">{mark}</text></g>)}
            {days.map((day, i) => <text key={day.atMs} x={x(i)} y={HEIGHT - 8} text-anchor="middle">{stageDay(day.atMs, zone)}</text>)}
          </g>
          <path class="sx-intake" d={linePath(line)} />
          {days.flatMap((day, i) => day.arms.map((arm, k) => (
            <circle key={`${day.atMs}${k}`} class={arm.side === "left" ? "sx-arm-left" : "sx-arm-right"} cx={x(i) + (arm.side === "left" ? -7 : 7)} cy={y(arm.mmol)} r="5" />
          )))}
        </svg>
      </div>
      <figcaption class="sx-quiet">{t("staff.result.chart")}</figcaption>
      <details>
        <summary>{t("staff.table_twin")}</summary>
        <table class="sx-table"><thead><tr><th scope="col">{t("staff.result.day")}</th><th scope="col">{t("staff.result.arms")}</th><th scope="col" class="sx-num">{t("staff.result.mean")}</th></tr></thead>
          <tbody>{days.map((day) => (
            <tr key={day.atMs}><th scope="row">{stageDay(day.atMs, zone)}</th><td>{day.arms.map((arm) => `${t(`staff.sweat.${arm.side as "left"}`)} ${decimal(arm.mmol, 0)}`).join(", ")}</td><td class="sx-num">{decimal(day.meanMmol, 0)}</td></tr>
          ))}</tbody>
        </table>
      </details>
    </figure>
  );
}
