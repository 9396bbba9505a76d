import { useState } from "preact/hooks";

import { decimal, percent, sweatSodium } from "@/core/display.ts";
import {
  checked, pairQuality, remarksOfMeter, SAMPLE_FIELDS, sampleQuality, timerMinutes, type Quality, type SampleFigures,
} from "@/core/sweat_day.ts";
import type { Remark, Rider, SweatSampleBody } from "@/protocol/records.ts";
import { keepSamples } from "@/ui/screens/staff/acts.ts";
import { NumberField } from "@/ui/screens/staff/parts.tsx";
import { calibrations, meterNow } from "@/ui/screens/staff/sweat_meter.tsx";
import { setTimer, timerOf } from "@/ui/screens/staff/sweat_squad.tsx";
import { spoken, t } from "@/ui/words.ts";

type Side = "left" | "right";
type Method = NonNullable<SweatSampleBody["method"]>;
const SIDES = ["left", "right"] as const;
const METHODS = ["ion_selective", "ion_chromatography", "flame", "conductivity"] as const satisfies Method[];
const HAND_REMARKS = ["VOL_FULL", "LEAK", "DETACHED", "TATTOO_OR_WOUND", "DUP_READ", "NA_CL"] as const satisfies Remark[];
const SITES = ["dorsal_forearm", "ventral_forearm"] as const;

/** What both arms share, and what each arm gave; every figure as typed until it is kept. */
interface Typed {
  site: SweatSampleBody["site"];
  method: Method;
  isSealed: boolean;
  analyser: string;
  remarks: readonly Remark[];
  area: string;
  collected: string;
  startedAfter: string;
  stored: string;
  sodium: Record<Side, string>;
  volume: Record<Side, string>;
}

const START: Typed = {
  site: "dorsal_forearm", method: "ion_selective", isSealed: true, analyser: "", remarks: [], area: "5", collected: "20", startedAfter: "20", stored: "0",
  sodium: { left: "", right: "" }, volume: { left: "", right: "" },
};

export function SamplesForm({ rider }: { rider: Rider }) {
  const [typed, setTyped] = useState<Typed>(() => started(rider.id));
  const [isTried, setTried] = useState(false);
  const [said, setSaid] = useState("");
  const set = (more: Partial<Typed>): void => { setTyped({ ...typed, ...more }); setSaid(""); };
  const keep = async (): Promise<void> => {
    setTried(true);
    const samples = samplesOf(typed);
    if (samples === null) {
      setSaid(t("staff.sweat.not_kept"));
      return;
    }
    await keepSamples(rider.id, samples, Date.now());
    setTyped({ ...typed, sodium: START.sodium, volume: START.volume, remarks: [] });
    setTimer(rider.id, null);
    setTried(false);
    setSaid(t("staff.sweat.samples_kept", { n: samples.length }));
  };
  return (
    <form class="sx-panel" aria-labelledby="samples-title" onSubmit={(event) => { event.preventDefault(); void keep(); }}>
      <h2 id="samples-title">{t("staff.sweat.samples")}</h2>
      <div class="sx-arms">
        {SIDES.map((side) => <Arm key={side} side={side} typed={typed} set={set} isTried={isTried} />)}
      </div>
      <PairNote typed={typed} />
      <Shared typed={typed} set={set} isTried={isTried} />
      <button type="submit" class="button button-quiet button-act">{t("staff.sweat.keep_samples")}</button>
      <p role="status" class="sx-said">{said}</p>
    </form>
  );
}

/** The squad's clock fills the times; the meter last calibrated is the one most likely used. */
function started(riderId: string): Typed {
  const { startedAfterMin, collectedMin } = timerMinutes(timerOf(riderId));
  return {
    ...START, analyser: calibrations().at(-1)?.body.analyser ?? "",
    ...(startedAfterMin === null ? {} : { startedAfter: decimal(startedAfterMin, 1) }),
    ...(collectedMin === null ? {} : { collected: decimal(collectedMin, 1) }),
  };
}

/** What was ticked by hand, and what the meter's last calibration adds. */
function remarksOf(typed: Typed): Remark[] {
  const meter = meterNow(typed.analyser);
  return [...new Set([...typed.remarks, ...(meter === null ? [] : remarksOfMeter(meter.codes))])].sort();
}

/** An arm left quite empty is an arm not sampled. */
const isUsed = (typed: Typed, side: Side): boolean => typed.sodium[side].trim() !== "" || typed.volume[side].trim() !== "";

function figuresOf(typed: Typed, side: Side): SampleFigures {
  return {
    sodiumMmolPerL: checked(typed.sodium[side], SAMPLE_FIELDS.sodium).value,
    volumeUl: checked(typed.volume[side], SAMPLE_FIELDS.volume).value,
    areaCm2: checked(typed.area, SAMPLE_FIELDS.area).value,
    collectedMin: checked(typed.collected, SAMPLE_FIELDS.collected).value,
    startedAfterMin: checked(typed.startedAfter, SAMPLE_FIELDS.startedAfter).value,
    storedDays: checked(typed.stored, SAMPLE_FIELDS.stored).value,
    isSealed: typed.isSealed, method: typed.method, remarks: remarksOf(typed),
  };
}

function samplesOf(typed: Typed): SweatSampleBody[] | null {
  const used = SIDES.filter((side) => isUsed(typed, side));
  const found = used.map((side) => bodyOf(typed, side));
  const whole = found.filter((body): body is SweatSampleBody => body !== null);
  return whole.length === 0 || whole.length < found.length ? null : whole;
}

function bodyOf(typed: Typed, side: Side): SweatSampleBody | null {
  const f = figuresOf(typed, side);
  const { sodiumMmolPerL, volumeUl, areaCm2, collectedMin, startedAfterMin, storedDays } = f;
  if (sodiumMmolPerL === null || volumeUl === null || areaCm2 === null) return null;
  if (collectedMin === null || startedAfterMin === null || storedDays === null) return null;
  return {
    site: typed.site, side, sodium_mmol_per_l: sodiumMmolPerL, volume_ul: volumeUl, area_cm2: areaCm2,
    collected_min: collectedMin, started_after_min: startedAfterMin, method: typed.method, is_sealed: typed.isSealed,
    stored_days: storedDays, ...(remarksOf(typed).length === 0 ? {} : { remarks: remarksOf(typed) }),
    ...(typed.analyser === "" ? {} : { analyser: typed.analyser }),
  };
}

interface ArmProps {
  side: Side;
  typed: Typed;
  set: (more: Partial<Typed>) => void;
  isTried: boolean;
}

function Arm({ side, typed, set, isTried }: ArmProps) {
  const figures = figuresOf(typed, side);
  const isNeeded = isTried && (isUsed(typed, side) || side === "left");
  return (
    <fieldset class="sx-arm">
      <legend>{t(`staff.sweat.${side}`)}</legend>
      <NumberField
        id={`sodium-${side}`} label={t("staff.field.sodium_mmol_per_l")} rule={SAMPLE_FIELDS.sodium} text={typed.sodium[side]}
        onText={(text) => set({ sodium: { ...typed.sodium, [side]: text } })} isShown={isNeeded}
        hint={figures.sodiumMmolPerL === null ? undefined : `= ${sweatSodium(figures.sodiumMmolPerL)}`}
      />
      <NumberField
        id={`volume-${side}`} label={t("staff.field.volume_ul")} rule={SAMPLE_FIELDS.volume} text={typed.volume[side]}
        onText={(text) => set({ volume: { ...typed.volume, [side]: text } })} isShown={isNeeded}
      />
      <QualityNotes found={isUsed(typed, side) ? sampleQuality(figures) : []} isComplete={figures.sodiumMmolPerL !== null && figures.volumeUl !== null} />
    </fieldset>
  );
}

function QualityNotes({ found, isComplete }: { found: readonly Quality[]; isComplete: boolean }) {
  if (found.length === 0) return isComplete ? <p class="sx-sound" role="status">{t("staff.quality.sound")}</p> : null;
  return (
    <ul class="flags" role="status">
      {found.map((q) => (
        <li key={q.code} class={q.isStop ? "flag flag-stop" : "flag flag-note"}>{qualityText(q)}</li>
      ))}
    </ul>
  );
}

function qualityText(q: Quality): string {
  const of = (name: string, digits: number): string => decimal(q.values[name] ?? 0, digits);
  return spoken(`staff.quality.${q.code}`, {
    rate: of("rate", 2), needed: of("needed", 0), volume: of("volume", 0), min: of("min", 0), days: of("days", 0), mmol: of("mmol", 0),
  }) ?? q.code;
}

function PairNote({ typed }: { typed: Typed }) {
  const left = figuresOf(typed, "left").sodiumMmolPerL;
  const right = figuresOf(typed, "right").sodiumMmolPerL;
  if (left === null || right === null) return null;
  const pair = pairQuality(left, right);
  const flag = pair.code === "agree" ? "sx-sound" : pair.code === "differ" ? "flag flag-note" : "flag flag-stop";
  return <p class={flag} role="status">{t(`staff.pair.${pair.code}`, { percent: percent(pair.differenceFrac) })}</p>;
}

function Shared({ typed, set, isTried }: { typed: Typed; set: (more: Partial<Typed>) => void; isTried: boolean }) {
  return (
    <fieldset class="sx-shared">
      <legend>{t("staff.sweat.both_arms")}</legend>
      <Choice id="site" label={t("staff.field.site")} value={typed.site} choices={SITES.map((s) => [s, t(`staff.site.${s}`)])} onPick={(v) => set({ site: v as Typed["site"] })} />
      <Choice id="method" label={t("staff.field.method")} value={typed.method} choices={METHODS.map((m) => [m, t(`staff.method.${m}`)])} onPick={(v) => set({ method: v as Method })} />
      <NumberField id="area" label={t("staff.field.area_cm2")} rule={SAMPLE_FIELDS.area} text={typed.area} onText={(area) => set({ area })} isShown={isTried} />
      <NumberField id="collected" label={t("staff.field.collected_min")} rule={SAMPLE_FIELDS.collected} text={typed.collected} onText={(collected) => set({ collected })} isShown={isTried} />
      <NumberField id="started" label={t("staff.field.started_after_min")} rule={SAMPLE_FIELDS.startedAfter} text={typed.startedAfter} onText={(startedAfter) => set({ startedAfter })} isShown={isTried} />
      <NumberField id="stored" label={t("staff.field.stored_days")} rule={SAMPLE_FIELDS.stored} text={typed.stored} onText={(stored) => set({ stored })} isShown={isTried} />
      <Choice
        id="analyser" label={t("staff.meter.name")} value={typed.analyser} onPick={(analyser) => set({ analyser })}
        choices={[["", t("staff.meter.unnamed")], ...[...new Set(calibrations().map((one) => one.body.analyser))].map((name) => [name, name] as const)]}
      />
      <fieldset class="sx-chips sx-full">
        <legend>{t("staff.sweat.remarks")}</legend>
        {HAND_REMARKS.map((remark) => (
          <label key={remark} class={typed.remarks.includes(remark) ? "sx-chip sx-chip-on" : "sx-chip"}>
            <input
              type="checkbox" checked={typed.remarks.includes(remark)}
              onChange={() => set({ remarks: typed.remarks.includes(remark) ? typed.remarks.filter((one) => one !== remark) : [...typed.remarks, remark] })}
            />
            {t(`staff.remark.${remark}`)}
          </label>
        ))}
      </fieldset>
      <label class="sx-tick">
        <input type="checkbox" checked={typed.isSealed} onChange={(event) => set({ isSealed: event.currentTarget.checked })} />
        {t("staff.field.is_sealed")}
      </label>
    </fieldset>
  );
}

interface ChoiceProps {
  id: string;
  label: string;
  value: string;
  choices: readonly (readonly [string, string])[];
  onPick: (value: string) => void;
}

export function Choice({ id, label, value, choices, onPick }: ChoiceProps) {
  return (
    <div class="sx-field">
      <label for={id}>{label}</label>
      <select id={id} value={value} onChange={(event) => onPick(event.currentTarget.value)}>
        {choices.map(([key, word]) => <option value={key} key={key}>{word}</option>)}
      </select>
    </div>
  );
}
