import { kilometres, stageTime, volume } from "@/core/display.ts";
import { drinksOf } from "@/core/cage.ts";
import { kmAt, nextStep } from "@/core/due.ts";
import { laneDots } from "@/core/lane.ts";
import { factsOf, totals } from "@/core/progress.ts";
import { kmByClock, slateWord, stillPlannedL } from "@/core/slate.ts";
import type { BottleSheet, EvidenceKind, LaneWord, PlanStep, Rider, Stage, StageForecast, StagePlan } from "@/protocol/records.ts";
import { currentStage, currentStageId, doc, folded, lastPassedAtMs, now } from "@/store/state.ts";
import { Evidence } from "@/ui/parts/evidence.tsx";
import { Hint } from "@/ui/parts/hint.tsx";
import { MiniLane } from "@/ui/parts/lane.tsx";
import { Nothing } from "@/ui/parts/nothing.tsx";
import { StagePicker } from "@/ui/parts/stage_picker.tsx";
import { href } from "@/ui/route.ts";
import { countWords, ridersByNumber } from "@/ui/screens/shared/crew_state.ts";
import { t } from "@/ui/words.ts";

interface Line {
  readonly rider: Rider;
  readonly drankL: number;
  readonly word: LaneWord;
  readonly said: string;
  readonly evidence: EvidenceKind | null;
  readonly next: PlanStep | null;
}

const of = <T,>(type: string, rider: Rider): T | null => doc<T>(`${type}:${rider.id}:${currentStageId.value ?? ""}`);

const elapsedH = (stage: Stage, rider: Rider): number =>
  (now.value - stage.start_at_ms) / 3_600_000 - (stage.start_offset_s_by_rider?.[rider.id] ?? 0) / 3600;

/** The word supposes that the rest of the plan is drunk. The car, which may see no losses, reads it at the sheet's kerbs. */
function lineOf(rider: Rider, stage: Stage): Line {
  const facts = factsOf(folded.value, rider.id, stage.id);
  const sums = totals(facts);
  const sheet = of<BottleSheet>("bottle_sheet", rider);
  const [plan, forecast] = [of<StagePlan>("stage_plan", rider), of<StageForecast>("stage_forecast", rider)];
  const km = forecast === null ? kmByClock(stage, now.value) : kmAt(elapsedH(stage, rider), forecast.along);
  const restL = km === null ? 0 : stillPlannedL((plan ?? sheet)?.steps ?? [], km);
  const intakeL = sums.drankEvidence === null ? null : sums.drankL + restL;
  const isSeen = plan !== null && forecast !== null;
  const word = isSeen
    ? laneDots({ quantilesL: forecast.sweat_quantiles_l, intakeL, lowL: plan.lane_low_l, highL: plan.lane_high_l }).word
    : slateWord(intakeL, sheet);
  const next = nextStep((plan ?? sheet)?.steps ?? [], [], km ?? 0, sums.drankL);
  const isAtKerb = !isSeen && (word === "dry" || word === "in_lane" || word === "wet");
  const said = isAtKerb ? t(`slate.kerb.${word}`) : t(`lane.${word}`);
  return { rider, drankL: sums.drankL, evidence: sums.drankEvidence, word, said, next };
}

function nextWords(step: PlanStep | null): string {
  if (step === null) return t("slate.noNext");
  const counts = new Map<string, number>();
  for (const id of drinksOf(step)) counts.set(id, (counts.get(id) ?? 0) + 1);
  return t("slate.next", { place: `${kilometres(step.km)} ${step.feed_name}`, bottles: countWords([...counts]) });
}

/** Slate: one line per rider, read at arm's length. The dry and the wet side first, the wet one before. */
export function Slate() {
  const stage = currentStage.value;
  const riders = ridersByNumber();
  if (stage === null || riders.length === 0) return <Nothing title={t("nav.slate")} />;
  const rank: Readonly<Record<LaneWord, number>> = { wet: 0, dry: 1, cant_tell: 2, nothing_noted: 3, in_lane: 4 };
  const lines = riders.map((rider) => lineOf(rider, stage)).sort((a, b) => rank[a.word] - rank[b.word] || a.rider.race_number - b.rider.race_number);
  const passedAt = lastPassedAtMs.value;
  return (
    <main class="page">
      <header class="page-head">
        <h1>{t("nav.slate")}</h1>
        <p>{passedAt === null ? t("slate.never") : t("slate.asOf", { time: stageTime(passedAt, stage.time_zone) })}</p>
      </header>
      <StagePicker />
      <Hint name="slate">{t("slate.hint")}</Hint>
      <ul class="slate">
        {lines.map((line) => {
          const { figure, unit } = volume(line.drankL);
          return (
            <li key={line.rider.id} class={`slate-line slate-${line.word}`}>
              <b class="slate-number">{line.rider.race_number}</b>
              <span class="slate-name">{line.rider.name}</span>
              <MiniLane word={line.word} label={line.said} />
              <b class="slate-word" aria-hidden="true">{line.said}</b>
              <span class="slate-litres">{figure}<small> {unit}</small><Evidence kind={line.evidence} /></span>
              <span class="slate-next">{nextWords(line.next)}</span>
              <a class="button button-quiet" href={href("bus", line.rider.id)} aria-label={t("slate.openWho", { rider: `${line.rider.race_number} ${line.rider.name}` })}>{t("slate.open")}</a>
            </li>
          );
        })}
      </ul>
    </main>
  );
}
