import { useEffect, useState } from "preact/hooks";

import { decimal, hours, percent, stageTime } from "@/core/display.ts";
import { figuresExpected, figuresOf, recordedOf, timeOfDay, type RideFigures } from "@/core/ride_files.ts";
import type { Flag, Rider, RiddenBody, Stage, StageForecast } from "@/protocol/records.ts";
import { doc, folded } from "@/store/state.ts";
import { postFile, Problem } from "@/sync/api.ts";
import { exchange } from "@/sync/exchange.ts";
import { Button } from "@/ui/parts/button.tsx";
import { Field } from "@/ui/parts/field.tsx";
import { Flags } from "@/ui/parts/why.tsx";
import { t } from "@/ui/words.ts";

interface RideRead {
  fact_id: string;
  ridden: RiddenBody;
  flags: Flag[];
}

interface Ends {
  readonly from: string;
  readonly to: string;
}

const rideTitle = (rider: Rider): string => `${rider.race_number} ${rider.name}`;

function pathOf(stage: Stage, riderId: string, ends: Ends, isLook: boolean): string {
  const query = new URLSearchParams();
  for (const [name, text] of [["from_ms", ends.from], ["to_ms", ends.to]] as const) {
    const at = timeOfDay(text, stage.start_at_ms, stage.time_zone);
    if (at !== null) query.set(name, String(at));
  }
  return `/api/stages/${encodeURIComponent(stage.id)}/rides/${encodeURIComponent(riderId)}${isLook ? "/preview" : ""}?${query.toString()}`;
}

/** A refusal in words: the field, what was there, and what would be taken. */
export function refusal(problem: unknown): string {
  if (!(problem instanceof Problem) || problem.code === "unreachable") return t("ride.unreachable");
  const { field, value, limit, detail } = problem;
  if (field === "") return [detail, limit].filter((part) => part !== "").join(" ");
  return t("ride.refused", { field: field.replaceAll("_", " "), value: String(value ?? ""), limit });
}

interface RideCardProps {
  file: Blob;
  name: string;
  stage: Stage;
  riders: readonly Rider[];
  rider: Rider | null;
  onKept?: (said: string) => void;
  onDrop: () => void;
}

/** One recording: whose it is, what was read out of it, what it takes the place of, and only then kept. */
export function RideCard({ file, name, stage, riders, rider, onKept, onDrop }: RideCardProps) {
  const [riderId, setRiderId] = useState(rider?.id ?? "");
  const [ends, setEnds] = useState<Ends>({ from: "", to: "" });
  const [read, setRead] = useState<RideRead | null>(null);
  const [fault, setFault] = useState("");
  const [kept, setKept] = useState("");
  const who = riders.find((one) => one.id === riderId) ?? null;

  const ask = async (isLook: boolean): Promise<void> => {
    setFault("");
    try {
      const told = await postFile<RideRead>(pathOf(stage, riderId, ends, isLook), file, "application/octet-stream");
      setRead(told);
      if (isLook || who === null) return;
      void exchange();
      const said = t("ride.kept", { rider: rideTitle(who) });
      setKept(said);
      onKept?.(said);
    } catch (problem) {
      setRead(null);
      setFault(refusal(problem));
    }
  };
  useEffect(() => { if (riderId !== "" && kept === "") void ask(true); }, [riderId, stage.id]);

  if (kept !== "") return <p role="status">{kept} <small>{name}</small></p>;
  return (
    <section class="group" aria-label={t("ride.file", { name })}>
      <h2>{name}</h2>
      <RiderChoice riders={riders} chosen={riderId} name={name} onPick={setRiderId} />
      {read !== null && who !== null && <Found read={read} riderId={who.id} stage={stage} />}
      {read !== null && <EndsPart ends={ends} stage={stage} onEnds={setEnds} onAgain={() => void ask(true)} />}
      {fault !== "" && <p class="fault" role="alert">{fault}</p>}
      <div class="acts">
        <Button kind="act" isDisabled={read === null} label={t("ride.keep_of", { name })} onPress={() => void ask(false)}>{t("ride.keep")}</Button>
        <Button label={t("ride.drop_of", { name })} onPress={onDrop}>{t("ride.drop")}</Button>
      </div>
    </section>
  );
}

function RiderChoice({ riders, chosen, name, onPick }: { riders: readonly Rider[]; chosen: string; name: string; onPick: (id: string) => void }) {
  if (riders.length < 2) return null;
  return (
    <label class="picker">
      <span>{t("ride.whose")}<span class="hidden"> {name}</span></span>
      <select value={chosen} onChange={(event) => onPick(event.currentTarget.value)}>
        <option value="" disabled>{t("ride.whose_open")}</option>
        {riders.map((one) => <option key={one.id} value={one.id}>{rideTitle(one)}</option>)}
      </select>
    </label>
  );
}

/** Time, distance and power as found, beside what they replace. */
function Found({ read, riderId, stage }: { read: RideRead; riderId: string; stage: Stage }) {
  const { ridden } = read;
  const earlier = recordedOf(folded.value.live.values(), riderId, stage.id);
  const forecast = doc<StageForecast>(`stage_forecast:${riderId}:${stage.id}`);
  const found = figuresOf(ridden);
  const before = earlier !== null ? figuresOf(earlier.body) : forecast === null ? null : figuresExpected(forecast);
  const missing = ridden.missing_power_frac ?? 0;
  return (
    <>
      <table class="beside">
        <caption class="hidden">{t("ride.table")}</caption>
        <thead><tr><td /><th scope="col">{t("ride.in_file")}</th><th scope="col">{t(earlier === null ? "ride.forecast" : "ride.earlier")}</th></tr></thead>
        <tbody>
          <FigureRow name={t("ride.time")} found={found} before={before} of={(one) => hours(one.durationH)} />
          <FigureRow name={t("ride.distance")} found={found} before={before} of={(one) => (one.lengthKm === null ? "—" : `${decimal(one.lengthKm, 1)} km`)} />
          <FigureRow name={t("ride.power")} found={found} before={before} of={(one) => (one.powerW === null ? t("ride.no_power") : `${decimal(one.powerW, 0)} W`)} />
          <tr><th scope="row">{t("ride.work")}</th><td>{decimal(ridden.work_kj, 0)} kJ</td><td /></tr>
        </tbody>
      </table>
      <p>{t("ride.began", { time: stageTime(ridden.started_at_ms, stage.time_zone), n: ridden.n_pauses ?? 0, paused: hours(ridden.paused_h ?? 0) })}</p>
      {missing > 0 && missing < 1 && <p>{t("ride.some_missing", { share: percent(missing) })}</p>}
      <p>{t("ride.means")}</p>
      <Flags flags={read.flags} />
    </>
  );
}

interface FigureRowProps {
  name: string;
  found: RideFigures;
  before: RideFigures | null;
  of: (one: RideFigures) => string;
}

function FigureRow({ name, found, before, of }: FigureRowProps) {
  return <tr><th scope="row">{name}</th><td>{of(found)}</td><td>{before === null ? "—" : of(before)}</td></tr>;
}

/** The two ends of the race, where the recording ran longer than it. */
function EndsPart({ ends, stage, onEnds, onAgain }: { ends: Ends; stage: Stage; onEnds: (ends: Ends) => void; onAgain: () => void }) {
  const faultOf = (text: string): string | null =>
    text.trim() === "" || timeOfDay(text, stage.start_at_ms, stage.time_zone) !== null ? null : t("ride.no_time");
  const isOff = faultOf(ends.from) !== null || faultOf(ends.to) !== null;
  return (
    <details>
      <summary>{t("ride.ends")}</summary>
      <div class="group">
        <Field label={t("ride.from")} text={ends.from} mode="text" fault={faultOf(ends.from)} hint={t("ride.time_hint")} onText={(from) => onEnds({ ...ends, from })} />
        <Field label={t("ride.to")} text={ends.to} mode="text" fault={faultOf(ends.to)} hint={t("ride.time_hint")} onText={(to) => onEnds({ ...ends, to })} />
        <Button isDisabled={isOff} onPress={onAgain}>{t("ride.again")}</Button>
      </div>
    </details>
  );
}
