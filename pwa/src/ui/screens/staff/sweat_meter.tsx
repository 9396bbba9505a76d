import { useState } from "preact/hooks";

import { decimal, stageDay, stageTime } from "@/core/display.ts";
import { stampOrder } from "@/core/fold.ts";
import { checked, meterQuality, type FieldRule, type MeterCode } from "@/core/sweat_day.ts";
import type { CalibratedBody, ControlRead, FactEvent, SweatSampleBody } from "@/protocol/records.ts";
import { append } from "@/store/commands.ts";
import { folded, session } from "@/store/state.ts";
import { canEdit, memberName } from "@/ui/screens/staff/look.ts";
import { NumberField } from "@/ui/screens/staff/parts.tsx";
import { t } from "@/ui/words.ts";

const mmol = (name: string, isOptional = false): FieldRule => ({ name, unit: "mmol/L", low: 0.1, high: 500, isOptional });
const RULES = {
  slope: { name: "slope_mv_per_decade", unit: "mV", low: 1, high: 120 },
  temperature: { name: "temperature_c", unit: "°C", low: 0, high: 50 },
  low: mmol("low_mmol_per_l"), high: { ...mmol("high_mmol_per_l"), high: 1000 },
  lowNominal: mmol("control_low", true), lowBefore: mmol("control_before", true), lowAfter: mmol("control_after", true),
  highNominal: mmol("control_high", true), highBefore: mmol("control_before", true), highAfter: mmol("control_after", true),
} as const satisfies Record<string, FieldRule>;
type Name = keyof typeof RULES;
const NAMES = Object.keys(RULES) as Name[];
const START: Readonly<Record<Name, string>> = {
  slope: "", temperature: "25", low: "10", high: "100", lowNominal: "25", lowBefore: "", lowAfter: "", highNominal: "85", highBefore: "", highAfter: "",
};

/** Calibrations of this team, newest last. */
export function calibrations(): FactEvent<CalibratedBody>[] {
  return ([...folded.value.live.values()].filter((event) => event.kind === "calibrated") as FactEvent<CalibratedBody>[]).sort(stampOrder);
}

/** The last calibration of an analyser and what it says of the samples read since. */
export function meterNow(analyser: string): { event: FactEvent<CalibratedBody>; codes: MeterCode[] } | null {
  const event = calibrations().filter((one) => one.body.analyser === analyser).at(-1);
  return event === undefined ? null : { event, codes: meterQuality(event.body, samplesSince(event)) };
}

function samplesSince(event: FactEvent<CalibratedBody>): number {
  return [...folded.value.live.values()].filter((one) => one.kind === "sweat_sample" && one.at_ms > event.at_ms
    && ((one.body as SweatSampleBody).analyser ?? "") === event.body.analyser).length;
}

/** The log of the sodium meter: a calibration between two solutions, and control solutions before and after. */
export function SweatMeter() {
  const log = calibrations();
  return (
    <div class="sx-sweat-columns">
      {canEdit.value && <MeterForm />}
      <section class="sx-panel" aria-labelledby="meter-log">
        <h2 id="meter-log">{t("staff.meter.log")}</h2>
        {log.length === 0 ? <p>{t("staff.meter.none")}</p> : <ul class="rows">{[...log].reverse().map((event) => <MeterLine key={event.id} event={event} />)}</ul>}
      </section>
    </div>
  );
}

function MeterLine({ event }: { event: FactEvent<CalibratedBody> }) {
  const { body } = event;
  const zone = session.value?.team.time_zone ?? "Europe/Paris";
  return (
    <li>
      <p><b>{body.analyser}</b> {stageDay(event.at_ms, zone)} {stageTime(event.at_ms, zone)}, {memberName(event.by)}</p>
      <p class="sx-quiet">{t("staff.meter.said", { slope: decimal(body.slope_mv_per_decade, 1), low: decimal(body.low_mmol_per_l, 0), high: decimal(body.high_mmol_per_l, 0), n: body.controls?.length ?? 0 })}</p>
      <MeterNotes codes={meterQuality(body, samplesSince(event))} />
    </li>
  );
}

export function MeterNotes({ codes }: { codes: readonly MeterCode[] }) {
  if (codes.length === 0) return <p class="sx-sound">{t("staff.meter.sound")}</p>;
  return <ul class="flags">{codes.map((code) => <li key={code} class={code === "QC_FAIL" ? "flag flag-stop" : "flag flag-caution"}>{t(`staff.meter.${code}`)}</li>)}</ul>;
}

function MeterForm() {
  const [analyser, setAnalyser] = useState(calibrations().at(-1)?.body.analyser ?? "");
  const [typed, setTyped] = useState<Readonly<Record<Name, string>>>(START);
  const [isTried, setTried] = useState(false);
  const [said, setSaid] = useState("");
  const body = bodyOf(analyser, typed);
  const keep = async (): Promise<void> => {
    setTried(true);
    if (body === null) {
      setSaid(t("staff.sweat.not_kept"));
      return;
    }
    await append("calibrated", session.value?.team.id ?? "", body);
    setTyped({ ...START, low: typed.low, high: typed.high });
    setTried(false);
    setSaid(t("staff.meter.kept"));
  };
  const field = (name: Name, label: string) => (
    <NumberField key={name} id={`meter-${name}`} label={label} rule={RULES[name]} text={typed[name]} isShown={isTried} onText={(text) => { setTyped({ ...typed, [name]: text }); setSaid(""); }} />
  );
  return (
    <form class="sx-panel" aria-labelledby="meter-title" onSubmit={(event) => { event.preventDefault(); void keep(); }}>
      <h2 id="meter-title">{t("staff.meter.title")}</h2>
      <span class="sx-field"><label for="meter-name">{t("staff.meter.name")}</label><input id="meter-name" value={analyser} maxLength={40} onInput={(event) => setAnalyser(event.currentTarget.value)} /></span>
      {isTried && analyser.trim() === "" && <p class="sx-issue" role="alert">{t("staff.meter.name_empty")}</p>}
      <fieldset class="sx-shared"><legend>{t("staff.meter.solutions")}</legend>
        {field("low", t("staff.meter.low"))}{field("high", t("staff.meter.high"))}{field("slope", t("staff.meter.slope"))}{field("temperature", t("staff.meter.temperature"))}
      </fieldset>
      <fieldset class="sx-shared"><legend>{t("staff.meter.control_low")}</legend>
        {field("lowNominal", t("staff.meter.nominal"))}{field("lowBefore", t("staff.meter.before"))}{field("lowAfter", t("staff.meter.after"))}
      </fieldset>
      <fieldset class="sx-shared"><legend>{t("staff.meter.control_high")}</legend>
        {field("highNominal", t("staff.meter.nominal"))}{field("highBefore", t("staff.meter.before"))}{field("highAfter", t("staff.meter.after"))}
      </fieldset>
      {body !== null && <MeterNotes codes={meterQuality(body, 0)} />}
      <button type="submit" class="button button-quiet button-act">{t("staff.meter.keep")}</button>
      <p role="status" class="sx-said">{said}</p>
    </form>
  );
}

function bodyOf(analyser: string, typed: Readonly<Record<Name, string>>): CalibratedBody | null {
  if (analyser.trim() === "" || NAMES.some((name) => checked(typed[name], RULES[name]).issue !== null)) return null;
  const of = (name: Name): number | null => checked(typed[name], RULES[name]).value;
  const controls = ([["lowNominal", "lowBefore", "lowAfter"], ["highNominal", "highBefore", "highAfter"]] as const)
    .map(([nominal, before, after]) => [of(nominal), of(before), of(after)])
    .filter((read): read is ControlRead => read.every((value) => value !== null));
  return {
    analyser: analyser.trim(), slope_mv_per_decade: of("slope") ?? 0, temperature_c: of("temperature") ?? 25,
    low_mmol_per_l: of("low") ?? 0, high_mmol_per_l: of("high") ?? 0, ...(controls.length === 0 ? {} : { controls }),
  };
}
