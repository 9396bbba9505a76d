import { useEffect, useState } from "preact/hooks";

import { decimal, hours, litres, percent } from "@/core/display.ts";
import type { RaceRole, Rider, Stage, StageForecast, StagePlan } from "@/protocol/records.ts";
import { post } from "@/sync/api.ts";
import { problemSentence } from "@/ui/screens/staff/acts.ts";
import { LaneDotsStrip } from "@/ui/screens/staff/settle_lane.tsx";
import { Choice } from "@/ui/screens/staff/sweat_samples.tsx";
import { t } from "@/ui/words.ts";

interface Answer {
  duration_h: number;
  air_temperature_max_c: number;
  sweat_quantiles_l: number[];
  sweat_q10_l: number;
  sweat_q50_l: number;
  sweat_q90_l: number;
  intake_l: number;
  lane_low_l: number;
  lane_high_l: number;
  deficit_low_frac: number;
  deficit_high_frac: number;
  plasma_low_mmol_per_l: number | null;
  plasma_high_mmol_per_l: number | null;
}

const ROLES = ["leader", "domestique", "breakaway", "sprinter"] as const satisfies readonly RaceRole[];
const WAIT_MS = 350;
const FLOOR_MMOL_PER_L = 138;

/** The same plan on another day: the server forecasts again while a slider rests; nothing is stored. */
export function WhatIf({ rider, stage, plan, forecast }: { rider: Rider; stage: Stage; plan: StagePlan; forecast: StageForecast }) {
  const [heatC, setHeat] = useState(0);
  const [pace, setPace] = useState(100);
  const [missed, setMissed] = useState(0);
  const [role, setRole] = useState<RaceRole | "">("");
  const [answer, setAnswer] = useState<Answer | null>(null);
  const [fault, setFault] = useState("");
  const isAsked = heatC !== 0 || pace !== 100 || missed !== 0 || role !== "";
  useEffect(() => {
    if (!isAsked) {
      setAnswer(null);
      return undefined;
    }
    let isOver = false;
    const timer = setTimeout(() => {
      const question = { rider_id: rider.id, heat_c: heatC, pace_frac: pace / 100, missed_n: missed, ...(role === "" ? {} : { race_role: role }) };
      post<Answer>(`/api/stages/${stage.id}/what-if`, question).then(
        (found) => { if (!isOver) { setAnswer(found); setFault(""); } },
        (problem: unknown) => { if (!isOver) setFault(problemSentence(problem)); },
      );
    }, WAIT_MS);
    return () => {
      isOver = true;
      clearTimeout(timer);
    };
  }, [heatC, pace, missed, role]);
  return (
    <section class="sx-panel sx-what-if" aria-labelledby="what-if-title">
      <h3 id="what-if-title">{t("staff.what_if.title")}</h3>
      <div class="sx-sliders">
        <Slider id="heat" label={t("staff.what_if.heat")} value={heatC} low={-10} high={10} said={`${heatC > 0 ? "+" : ""}${heatC} °C`} onValue={setHeat} />
        <Slider id="pace" label={t("staff.what_if.pace")} value={pace} low={85} high={115} said={`${pace} %`} onValue={setPace} />
        <Slider id="missed" label={t("staff.what_if.missed")} value={missed} low={0} high={6} said={String(missed)} onValue={setMissed} />
        <Choice id="what-role" label={t("staff.what_if.role")} value={role} choices={[["", t("staff.what_if.role_planned")], ...ROLES.map((one) => [one, t(`staff.role.${one}`)] as const)]} onPick={(one) => setRole(one as RaceRole | "")} />
      </div>
      {fault !== "" && <p class="sx-issue" role="alert">{fault}</p>}
      <div role="status" aria-live="polite">{answer === null ? <p class="sx-quiet">{t("staff.what_if.rest")}</p> : <Outcome answer={answer} plan={plan} forecast={forecast} />}</div>
    </section>
  );
}

interface SliderProps {
  id: string;
  label: string;
  value: number;
  low: number;
  high: number;
  said: string;
  onValue: (value: number) => void;
}

function Slider({ id, label, value, low, high, said, onValue }: SliderProps) {
  return (
    <span class="sx-slider">
      <label for={`what-${id}`}>{label} <output for={`what-${id}`}>{said}</output></label>
      <input id={`what-${id}`} type="range" min={low} max={high} step={1} value={value} aria-valuetext={said} onInput={(event) => onValue(Number(event.currentTarget.value))} />
    </span>
  );
}

function Outcome({ answer: a, plan, forecast }: { answer: Answer; plan: StagePlan; forecast: StageForecast }) {
  const then = { ...forecast, sweat_quantiles_l: a.sweat_quantiles_l };
  return (
    <>
      <p class="sx-rule">
        {t("staff.what_if.loss", {
          low: decimal(a.sweat_q10_l, 1), high: decimal(a.sweat_q90_l, 1), was_low: decimal(forecast.sweat_q10_l, 1), was_high: decimal(forecast.sweat_q90_l, 1),
          time: hours(a.duration_h), c: decimal(a.air_temperature_max_c, 0),
        })}
      </p>
      <LaneDotsStrip forecast={then} plan={{ ...plan, lane_low_l: a.lane_low_l, lane_high_l: a.lane_high_l }} intakeL={a.intake_l} />
      <p>{t("staff.what_if.owed", { drunk: litres(a.intake_l), low: percent(Math.max(0, a.deficit_low_frac)), high: percent(Math.max(0, a.deficit_high_frac)) })}</p>
      {a.plasma_low_mmol_per_l !== null && a.plasma_high_mmol_per_l !== null && (
        <p>{t("staff.what_if.plasma", { low: decimal(a.plasma_low_mmol_per_l, 0), high: decimal(a.plasma_high_mmol_per_l, 0) })}</p>
      )}
      {a.deficit_low_frac < 0 && <p class="flag flag-medical">{t("staff.what_if.above")} {t("staff.physician")}</p>}
      {a.plasma_low_mmol_per_l !== null && a.plasma_low_mmol_per_l < FLOOR_MMOL_PER_L && <p class="flag flag-stop">{t("staff.what_if.floor")}</p>}
    </>
  );
}
