import { decimal, percent, stageDay } from "@/core/display.ts";
import { heatShare, HOT_FROM_C, retest, sodiumShift } from "@/core/season.ts";
import type { FactEvent, Rider, WeighedRideBody } from "@/protocol/records.ts";
import { folded, now, session, stages } from "@/store/state.ts";
import { href } from "@/ui/route.ts";
import { forecastOf, raced, riders } from "@/ui/screens/staff/look.ts";
import { Head, NothingYet } from "@/ui/screens/staff/parts.tsx";
import { testDays } from "@/ui/screens/staff/sweat_result.tsx";
import { t } from "@/ui/words.ts";

const DAY_MS = 86_400_000;
const dayOf = (ms: number): number => Math.floor(ms / DAY_MS);

interface HotDay {
  day: number;
  how: "stage" | "ride";
  warmestC: number;
}

/** Days of heat in the books, with what says so: raced stages and weighed rides at 28 °C or more. */
function heatDays(riderId: string): HotDay[] {
  const mine = [...folded.value.live.values()].filter((event) => event.subject_id === riderId);
  const rode = new Set(mine.filter((e) => e.kind === "weighed" || e.kind === "handed_up").map((e) => e.stage_id ?? ""));
  const staged = raced.value.filter((stage) => rode.has(stage.id)).map((stage): HotDay => (
    { day: dayOf(stage.start_at_ms), how: "stage", warmestC: forecastOf(riderId, stage.id)?.air_temperature_max_c ?? hottest(stage.id) }
  ));
  const rides = (mine.filter((e) => e.kind === "weighed_ride") as FactEvent<WeighedRideBody>[]).map((ride): HotDay => (
    { day: dayOf(ride.at_ms), how: "ride", warmestC: ride.body.air_temperature_c }
  ));
  return [...staged, ...rides].filter((one) => one.warmestC >= HOT_FROM_C).sort((one, other) => one.day - other.day);
}

function hottest(stageId: string): number {
  return Math.max(-99, ...(stages.value.find((stage) => stage.id === stageId)?.forecast ?? []).map((row) => row.air_temperature_c));
}

/** The race's own today: a race replayed or prepared is judged by its last noted day, not by the wall clock. */
function today(): number {
  const noted = [...folded.value.live.values()].filter((event) => event.stage_id).map((event) => event.at_ms);
  return dayOf(noted.length === 0 ? now.value : Math.max(...noted)) + 1;
}

export function SeasonScreen() {
  if (riders.value.length === 0) return <main class="sx"><Head title={t("staff.season.title")} /><NothingYet /></main>;
  const day = today();
  const due = riders.value.filter((rider) => stateOf(rider, day).due !== "fresh").length;
  return (
    <main class="sx sx-season">
      <Head title={t("staff.season.title")} said={t("staff.season.count", { n: due })} />
      <div class="sx-scroll" tabIndex={0} role="region" aria-label={t("staff.season.table")}>
        <table class="sx-table sx-stack">
          <caption class="hidden">{t("staff.season.table")}</caption>
          <thead><tr>
            <th scope="col">{t("staff.rider")}</th><th scope="col">{t("staff.season.heat")}</th><th scope="col">{t("staff.season.test")}</th>
            <th scope="col">{t("staff.season.shift")}</th><th scope="col">{t("staff.season.due")}</th>
          </tr></thead>
          <tbody>{riders.value.map((rider) => <SeasonRow key={rider.id} rider={rider} day={day} />)}</tbody>
        </table>
      </div>
      <p class="sx-quiet">{t("staff.season.how")}</p>
    </main>
  );
}

function stateOf(rider: Rider, day: number) {
  const days = heatDays(rider.id);
  const hot = days.map((one) => one.day);
  const last = testDays(rider.id).at(-1) ?? null;
  const testDay = last === null ? null : dayOf(last.atMs);
  const [then, nowShare] = [testDay === null ? 0 : heatShare(hot, testDay), heatShare(hot, day)];
  return { days, hot, last, share: nowShare, shift: testDay === null ? null : sodiumShift(then, nowShare), due: retest(testDay, hot, day) };
}

const BAR = 132;

function SeasonRow({ rider, day }: { rider: Rider; day: number }) {
  const { days, hot, last, share, shift, due } = stateOf(rider, day);
  const zone = session.value?.team.time_zone ?? "Europe/Paris";
  return (
    <tr class="sx-row">
      <th scope="row"><a class="sx-row-link" href={href("rider", rider.id)}><span><span class="sx-no">{rider.race_number}</span> {rider.name}</span></a></th>
      <td data-label={t("staff.season.heat")}>
        <span class="sx-lane">
          <svg viewBox={`0 0 ${BAR} 18`} width={BAR} height="18" aria-hidden="true"><path class="sx-range-road" d={`M2 9H${BAR - 2}`} /><path class="sx-range-span" d={`M2 9H${2 + share * (BAR - 4)}`} /></svg>
          <span>{percent(share)} <small>{t("staff.season.hot_days", { n: new Set(hot.filter((one) => one < day && one >= day - 21)).size })}</small></span>
        </span>
        <details class="why">
          <summary>{t("why.open")}<span class="hidden"> {rider.name}</span></summary>
          <ul>
            {days.filter((one) => one.day < day).map((one) => <li key={`${one.day} ${one.how}`}>{stageDay(one.day * DAY_MS, "UTC")}: {t(`staff.season.from_${one.how}`, { c: decimal(one.warmestC, 0) })}</li>)}
            <li>{t("staff.season.reckoned", { share: percent(share) })}</li>
            <li>{t("staff.season.sources")}</li>
          </ul>
        </details>
      </td>
      <td data-label={t("staff.season.test")}>{last === null ? t("staff.season.no_test") : stageDay(last.atMs, zone)}</td>
      <td data-label={t("staff.season.shift")}>{shift === null ? "—" : Math.abs(shift) < 0.005 ? t("staff.season.same") : t(shift < 0 ? "staff.season.dilute" : "staff.season.saltier", { percent: decimal(Math.abs(shift) * 100, 0) })}</td>
      <td data-label={t("staff.season.due")}>{due === "fresh" ? t("staff.season.fresh") : <b>{t(due === "heat" ? "staff.season.heat_moved" : `staff.season.${due}`)}</b>}</td>
    </tr>
  );
}
