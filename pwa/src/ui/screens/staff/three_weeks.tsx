import { computed, signal } from "@preact/signals";
import type { ComponentChildren } from "preact";

import { miniLane, medianOfThree, sparkline } from "@/core/charts.ts";
import { decimal, percent } from "@/core/display.ts";
import { againstOwnLine, longestRun, tally, type DayMark } from "@/core/three_weeks.ts";
import type { FactEvent, MorningCheckBody, Rider, Settlement, SettlementSummary, Stage } from "@/protocol/records.ts";
import { doc, folded, stages } from "@/store/state.ts";
import { AuditSection } from "@/ui/screens/staff/audit.tsx";
import { isNarrow, riders, seesMass } from "@/ui/screens/staff/look.ts";
import { Head, laneWord, MiniLaneMark, NothingYet } from "@/ui/screens/staff/parts.tsx";
import { stageFacts } from "@/core/settle.ts";
import { t } from "@/ui/words.ts";

type View = "marks" | "figures";
const view = signal<View>("marks");

/** One cell: what is known of a rider's stage, from the settlement or its summary. */
export interface DayCell {
  stage: Stage;
  summary: SettlementSummary | null;
  mark: DayMark | null;
}

export function ThreeWeeksScreen() {
  const days = stages.value;
  if (days.length === 0 || riders.value.length === 0) {
    return <main class="sx"><Head title={t("staff.weeks.title")} /><NothingYet /></main>;
  }
  const n = riders.value.flatMap((rider) => cellsOf(rider)).filter((cell) => cell.mark?.isSettled === true).length;
  return (
    <main class="sx sx-weeks">
      <Head title={t("staff.weeks.title")} said={t("staff.weeks.count", { n })}><ViewChoice /></Head>
      {isNarrow.value && view.value === "marks" ? <Strips /> : <Grid days={days} />}
      <p class="sx-legend">{view.value === "marks" ? t("staff.weeks.legend") : t("staff.weeks.figures_legend")}</p>
      {!(isNarrow.value && view.value === "marks") && <InWords />}
      <AuditSection />
    </main>
  );
}

function ViewChoice() {
  return (
    <fieldset class="sx-chips sx-inline">
      <legend class="hidden">{t("staff.weeks.show")}</legend>
      {(["marks", "figures"] as const).map((choice) => (
        <label key={choice} class={view.value === choice ? "sx-chip sx-chip-on" : "sx-chip"}>
          <input type="radio" name="weeks-view" checked={view.value === choice} onChange={() => { view.value = choice; }} />
          {t(`staff.weeks.${choice}`)}
        </label>
      ))}
    </fieldset>
  );
}

export function cellsOf(rider: Rider): DayCell[] {
  return stages.value.map((stage) => {
    const summary = doc<Settlement>(`settlement:${rider.id}:${stage.id}`)
      ?? doc<SettlementSummary>(`settlement_summary:${rider.id}:${stage.id}`);
    const mark = summary === null || stage.kind === "rest" ? null
      : { stageNumber: stage.number, word: summary.lane, isSettled: summary.state === "settled" };
    return { stage, summary, mark };
  });
}

function Grid({ days }: { days: readonly Stage[] }) {
  return (
    <div class="sx-scroll" tabIndex={0} role="region" aria-label={t("staff.weeks.table")}>
      <table class="sx-table sx-grid">
        <caption class="hidden">{t("staff.weeks.caption")}</caption>
        <thead>
          <tr>
            <th scope="col">{t("staff.rider")}</th>
            {days.map((stage) => (
              <th scope="col" key={stage.id} class={stage.kind === "rest" ? "sx-rest" : "sx-day"}>
                {stage.kind === "rest" ? <><span aria-hidden="true">·</span><span class="hidden">{t("staff.rest_day")}</span></> : stage.number}
              </th>
            ))}
            {seesMass.value && <th scope="col">{t("staff.weeks.mass")}</th>}
          </tr>
        </thead>
        <tbody>{riders.value.map((rider) => <RiderWeeks key={rider.id} rider={rider} />)}</tbody>
      </table>
    </div>
  );
}

function RiderWeeks({ rider }: { rider: Rider }) {
  const cells = cellsOf(rider);
  return (
    <tr class="sx-row">
      <th scope="row"><span class="sx-no">{rider.race_number}</span> {rider.name}</th>
      {cells.map((cell) => (
        <td key={cell.stage.id} class={cell.stage.kind === "rest" ? "sx-rest" : "sx-day"}>
          {view.value === "marks" ? <MarkCell cell={cell} /> : <FigureCell cell={cell} />}
        </td>
      ))}
      {seesMass.value && <td><MassLine rider={rider} /></td>}
    </tr>
  );
}

const KERB_FRAC = 0.02;

function MarkCell({ cell }: { cell: DayCell }) {
  const { summary, mark } = cell;
  if (summary === null || mark === null || mark.word === "nothing_noted") return <Blank cell={cell} />;
  if (!mark.isSettled) return <NotSettled />;
  const change = summary.body_mass_change_frac ?? null;
  const share = change === null ? null : (change + KERB_FRAC) / KERB_FRAC;
  const spread = (summary as Partial<Settlement>).sweat_loss_sd_l ?? 0.3;
  return <MiniLaneMark lane={miniLane(mark.word, share, 0.12 + spread * 0.4)} label={cellLabel(cell)} />;
}

function cellLabel(cell: DayCell): string {
  const change = cell.summary?.body_mass_change_frac ?? null;
  const word = laneWord(cell.summary?.lane ?? "nothing_noted");
  return change === null ? word : t("staff.weeks.cell", { word, change: percent(change) });
}

function Blank({ cell }: { cell: DayCell }) {
  return cell.stage.kind === "rest" ? null : <span class="hidden">{t("lane.nothing_noted")}</span>;
}

function NotSettled() {
  return (
    <svg class="mini-lane" viewBox="0 0 44 24" width="44" height="24" role="img" aria-label={t("staff.weeks.not_settled")}>
      <path class="lane-open" d="M18 20L26 4" />
    </svg>
  );
}

function FigureCell({ cell }: { cell: DayCell }) {
  const { summary, mark } = cell;
  if (summary === null || mark === null || mark.word === "nothing_noted") return <Blank cell={cell} />;
  if (!mark.isSettled) return <span aria-label={t("staff.weeks.not_settled")} role="img">/</span>;
  const change = summary.body_mass_change_frac ?? null;
  return (
    <span class="sx-cell-figures">
      <b>{summary.agreed_drunk_l === null || summary.agreed_drunk_l === undefined ? "—" : decimal(summary.agreed_drunk_l, 1)}</b>
      <small>{change === null ? laneWord(mark.word) : percent(change)}</small>
    </span>
  );
}

/** Noted, settled and in lane apart, then the longest run on one side. */
export function wordsOf(cells: readonly DayCell[]): string {
  const days = cells.flatMap((cell) => (cell.mark === null ? [] : [cell.mark]));
  const count = tally(days);
  const said = t("staff.weeks.tally", { noted: count.nNoted, settled: count.nSettled, in: count.nIn });
  const run = longestRun(days);
  if (run === null || run.length < 2) return said;
  const sideCount = run.side === "dry" ? count.nDry : count.nWet;
  return t("staff.weeks.run", { said, side: laneWord(run.side), n: sideCount, all: count.nNoted, length: run.length, from: run.from, to: run.to });
}

/** The weighings of each rider and stage, sorted out once: a race holds thousands of facts. */
const weighings = computed(() => {
  const found = new Map<string, FactEvent[]>();
  for (const event of folded.value.live.values()) {
    if (event.kind !== "weighed" && event.kind !== "morning_check") continue;
    const key = `${event.subject_id} ${event.stage_id ?? ""}`;
    const known = found.get(key);
    if (known === undefined) found.set(key, [event]);
    else known.push(event);
  }
  return found;
});

/** Morning mass, or the mass before the stage, per day of the race. */
function massesOf(rider: Rider): (number | null)[] {
  return stages.value.map((stage) => {
    const facts = weighings.value.get(`${rider.id} ${stage.id}`) ?? [];
    const morning = facts.find((event) => event.kind === "morning_check");
    if (morning !== undefined) return (morning.body as MorningCheckBody).mass_kg;
    const before = stageFacts(facts, rider.id, stage.id).before?.mass_kg;
    return before ?? doc<Settlement>(`settlement:${rider.id}:${stage.id}`)?.mass_before_kg ?? null;
  });
}

const SPARK = { width: 56, height: 32, left: 3, right: 3, top: 3, bottom: 3 };

function MassLine({ rider }: { rider: Rider }) {
  const line = againstOwnLine(massesOf(rider));
  const known = line.filter((v): v is number => v !== null);
  const last = known.at(-1);
  if (last === undefined) return <span class="sx-missing">{t("staff.not_noted")}</span>;
  const reach = Math.max(0.02, ...known.map(Math.abs));
  const middle = SPARK.height / 2;
  return (
    <span class="sx-spark">
      <svg viewBox={`0 0 ${SPARK.width} ${SPARK.height}`} width={SPARK.width} height={SPARK.height} role="img" aria-label={t("staff.weeks.mass_said", { percent: percent(last) })}>
        <path class="sx-spark-zero" d={`M0 ${middle}H${SPARK.width}`} />
        <path class="sx-spark-raw" d={sparkline(line, SPARK, -reach, reach)} />
        <path class="sx-spark-line" d={sparkline(medianOfThree(line), SPARK, -reach, reach)} />
      </svg>
      <small>{percent(last)}</small>
    </span>
  );
}

/** Each rider in one sentence; on a phone it stands under the strip instead. */
function InWords() {
  return (
    <section class="sx-in-words" aria-labelledby="weeks-words">
      <h2 id="weeks-words">{t("staff.weeks.in_words")}</h2>
      <dl>
        {riders.value.map((rider) => (
          <div key={rider.id}>
            <dt><span class="sx-no">{rider.race_number}</span> {rider.name}</dt>
            <dd>{wordsOf(cellsOf(rider))}</dd>
          </div>
        ))}
      </dl>
    </section>
  );
}

/** On a phone: one rider after the other, the stages as a strip that wraps by week. */
function Strips() {
  return (
    <ul class="sx-cards">
      {riders.value.map((rider) => <Strip key={rider.id} rider={rider} />)}
    </ul>
  );
}

function Strip({ rider }: { rider: Rider }) {
  const cells = cellsOf(rider);
  return (
    <li class="sx-card">
      <div class="sx-card-head">
        <h2><span class="sx-no">{rider.race_number}</span> {rider.name}</h2>
        {seesMass.value && <MassLine rider={rider} />}
      </div>
      <ol class="sx-strip">
        {cells.map((cell) => <StripDay key={cell.stage.id} cell={cell}><MarkCell cell={cell} /></StripDay>)}
      </ol>
      <p class="sx-words">{wordsOf(cells)}</p>
    </li>
  );
}

function StripDay({ cell, children }: { cell: DayCell; children: ComponentChildren }) {
  if (cell.stage.kind === "rest") return <li class="sx-strip-rest"><span class="hidden">{t("staff.rest_day")}</span></li>;
  return <li><span class="sx-strip-no">{cell.stage.number}</span>{children}</li>;
}
