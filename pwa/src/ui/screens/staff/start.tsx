import { useState } from "preact/hooks";

import { decimal } from "@/core/display.ts";
import {
  FIRST_DRINKS, FIRST_FOODS, firstFeeds, firstStage, plainForecast, readRoster, straightCourse, type RosterFault,
} from "@/core/first_steps.ts";
import { checked, type FieldRule } from "@/core/sweat_day.ts";
import { instantOf } from "@/core/zone.ts";
import type { Stage, StageKind } from "@/protocol/records.ts";
import { docsOf, session } from "@/store/state.ts";
import { put } from "@/sync/api.ts";
import { exchange } from "@/sync/exchange.ts";
import { Button } from "@/ui/parts/button.tsx";
import { href } from "@/ui/route.ts";
import { problemSentence, publish, saveStage, sendCourse } from "@/ui/screens/staff/acts.ts";
import { canEdit, raced, riders } from "@/ui/screens/staff/look.ts";
import { Answer, Head, NumberField, type Said } from "@/ui/screens/staff/parts.tsx";
import { Choice } from "@/ui/screens/staff/sweat_samples.tsx";
import { t } from "@/ui/words.ts";

/** A quiet first hour: roster, drinks, one stage, a test or the default, and the first plan on every phone. */
export function StartScreen() {
  const isDone = [riders.value.length > 0, docsOf("drink").length > 0, raced.value.some((stage) => (stage.forecast ?? []).length > 0 && (stage.course ?? []).length > 1)];
  const n = isDone.findIndex((one) => !one);
  const at = n === -1 ? 3 : n;
  const stage = raced.value.find((one) => (one.forecast ?? []).length > 0);
  return (
    <main class="sx sx-start">
      <Head title={t("staff.start.title")} said={t("staff.start.what")} />
      {!canEdit.value ? <p>{t("staff.start.not_yours")}</p> : (
        <ol class="sx-steps">
          <Step n={1} title={t("staff.start.roster")} isOpen={at === 0} said={t("staff.start.roster_done", { n: riders.value.length })}><Roster /></Step>
          <Step n={2} title={t("staff.start.drinks")} isOpen={at === 1} isLater={at < 1} said={t("staff.start.drinks_done", { n: docsOf("drink").length })}><Drinks /></Step>
          <Step n={3} title={t("staff.start.stage")} isOpen={at === 2} isLater={at < 2} said={stage?.name ?? ""}><FirstStageForm /></Step>
          <Step n={4} title={t("staff.start.test")} isOpen={at === 3} isLater={at < 3} said="">{stage !== undefined && <TestOrDefault stage={stage} />}</Step>
        </ol>
      )}
    </main>
  );
}

interface StepProps {
  n: number;
  title: string;
  isOpen: boolean;
  isLater?: boolean;
  said: string;
  children: preact.ComponentChildren;
}

function Step({ n, title, isOpen, isLater = false, said, children }: StepProps) {
  return (
    <li class={isOpen ? "sx-step sx-step-open" : "sx-step"} {...(isOpen ? { "aria-current": "step" as const } : {})}>
      <h2><span class="sx-feed-no">{n}</span> {title}</h2>
      {isOpen ? children : <p class="sx-quiet">{isLater ? t("staff.start.later") : said}</p>}
    </li>
  );
}

/** Keep several records one after the other; what the server refuses is said, and what came before it stays. */
async function keepAll(path: string, records: readonly { id: string }[]): Promise<void> {
  for (const record of records) await put(`/api/${path}/${record.id}`, { ...record, version: 0 });
}

async function tried(work: () => Promise<void>, setSaid: (said: Said | null) => void): Promise<void> {
  setSaid({ text: t("staff.start.keeping"), isFault: false });
  try {
    await work();
    await exchange();
    setSaid(null);
  } catch (problem) {
    setSaid({ text: problemSentence(problem), isFault: true });
  }
}

function Roster() {
  const [text, setText] = useState("");
  const [said, setSaid] = useState<Said | null>(null);
  const { lines, faults } = readRoster(text);
  const nDefaults = lines.filter((line) => line.defaults.length > 0).length;
  const keep = (): Promise<void> => tried(async () => {
    await keepAll("riders", lines.map((line) => line.rider));
    await keepAll("rider-bodies", lines.map((line) => line.body));
  }, setSaid);
  return (
    <form class="sx-bare" onSubmit={(event) => { event.preventDefault(); if (lines.length > 0 && faults.length === 0) void keep(); }}>
      <div class="sx-field sx-full">
        <label for="roster">{t("staff.start.roster_label")}</label>
        <textarea id="roster" class="sx-code" rows={8} value={text} spellcheck={false} aria-describedby="roster-hint" onInput={(event) => { setText(event.currentTarget.value); setSaid(null); }} />
        <p class="sx-hint" id="roster-hint">{t("staff.start.roster_hint")}</p>
      </div>
      {faults.length > 0 && <ul class="flags" role="status">{faults.map((fault) => <li key={fault.line} class="flag flag-caution">{faultText(fault)}</li>)}</ul>}
      {lines.length > 0 && <p role="status">{t("staff.start.read", { n: lines.length })} {nDefaults > 0 && t("staff.start.defaults", { n: nDefaults })}</p>}
      <button type="submit" class="button button-quiet button-act" disabled={lines.length === 0 || faults.length > 0}>{t("staff.start.keep_roster")}</button>
      <Answer said={said} />
    </form>
  );
}

const faultText = (fault: RosterFault): string => t(`staff.start.fault_${fault.why}`, { line: fault.line, text: fault.text });

function Drinks() {
  const [off, setOff] = useState<ReadonlySet<string>>(new Set());
  const [said, setSaid] = useState<Said | null>(null);
  const drinks = FIRST_DRINKS.filter((drink) => !off.has(drink.id));
  const toggle = (id: string): void => {
    const next = new Set(off);
    if (!next.delete(id)) next.add(id);
    setOff(next);
  };
  const keep = (): Promise<void> => tried(async () => {
    await keepAll("foods", FIRST_FOODS);
    await keepAll("drinks", drinks);
  }, setSaid);
  return (
    <div class="sx-bare">
      <p>{t("staff.start.drinks_what")}</p>
      {FIRST_DRINKS.map((drink) => (
        <label key={drink.id} class="sx-tick">
          <input type="checkbox" checked={!off.has(drink.id)} onChange={() => toggle(drink.id)} />
          <span>{drink.name} <small class="sx-default">{t("staff.start.default")}</small> <small>{t("staff.start.drink_says", { na: decimal(drink.sodium_mg_per_l, 0), cho: decimal(drink.carbohydrate_g_per_l ?? 0, 0) })}</small></span>
        </label>
      ))}
      <p class="sx-quiet">{t("staff.start.foods_too")}</p>
      <p><Button kind="act" isDisabled={drinks.length === 0} onPress={() => void keep()}>{t("staff.start.keep_drinks")}</Button></p>
      <Answer said={said} />
    </div>
  );
}

const RULES = {
  length: { name: "km", unit: "km", low: 1, high: 400 },
  start: { name: "air_temperature_c", unit: "°C", low: -10, high: 50 },
  warmest: { name: "air_temperature_c", unit: "°C", low: -10, high: 50 },
  humidity: { name: "relative_humidity_frac", unit: "%", low: 5, high: 100 },
  wind: { name: "wind_m_per_s", unit: "m/s", low: 0, high: 35 },
  cloud: { name: "cloud_frac", unit: "%", low: 0, high: 100 },
} as const satisfies Record<string, FieldRule>;
type Name = keyof typeof RULES;
const NAMES = Object.keys(RULES) as Name[];
const KINDS = ["flat", "hilly", "mountain", "time_trial", "mountain_time_trial"] as const satisfies StageKind[];

function FirstStageForm() {
  const [name, setName] = useState("");
  const [day, setDay] = useState("");
  const [time, setTime] = useState("12:00");
  const [kind, setKind] = useState<StageKind>("hilly");
  const [file, setFile] = useState<File | null>(null);
  const [typed, setTyped] = useState<Readonly<Record<Name, string>>>({ length: "160", start: "", warmest: "", humidity: "50", wind: "2", cloud: "20" });
  const [isTried, setTried] = useState(false);
  const [said, setSaid] = useState<Said | null>(null);
  const zone = session.value?.team.time_zone ?? "Europe/Paris";
  const startMs = instantOf(`${day}T${time}`, zone);
  const value = (one: Name): number => checked(typed[one], RULES[one]).value ?? 0;
  const isWhole = name.trim() !== "" && startMs !== null && NAMES.every((one) => checked(typed[one], RULES[one]).issue === null);
  const keep = async (): Promise<void> => {
    setTried(true);
    if (!isWhole || startMs === null) {
      setSaid({ text: t("staff.start.stage_faults"), isFault: true });
      return;
    }
    const forecast = plainForecast(startMs, { startC: value("start"), warmestC: value("warmest"), humidityFrac: value("humidity") / 100, windMPerS: value("wind"), cloudFrac: value("cloud") / 100 });
    const names = { start: t("staff.feed_kind.start"), feed: (n: number) => t("staff.book.feed_n", { n }) };
    const bare = { name: name.trim(), kind, startMs, timeZone: zone };
    await tried(async () => {
      const road = file === null ? straightCourse(value("length"), 45, 5) : [];
      let stage = await saveStage(firstStage(bare, road, file === null ? firstFeeds(value("length"), names) : [], file === null ? forecast : []));
      if (file !== null) {
        stage = await sendCourse(stage.id, file, 0);
        await saveStage({ ...stage, feed_points: firstFeeds(stage.course?.at(-1)?.[0] ?? 0, names), forecast });
      }
    }, setSaid);
  };
  const field = (one: Name, label: string) => (
    <NumberField key={one} id={`first-${one}`} label={label} rule={RULES[one]} text={typed[one]} isShown={isTried} onText={(text) => { setTyped({ ...typed, [one]: text }); setSaid(null); }} />
  );
  return (
    <form class="sx-bare" onSubmit={(event) => { event.preventDefault(); void keep(); }}>
      <div class="sx-shared">
        <span class="sx-field"><label for="first-name">{t("staff.field.name")}</label><input id="first-name" value={name} maxLength={80} onInput={(event) => setName(event.currentTarget.value)} /></span>
        <span class="sx-field"><label for="first-day">{t("staff.field.start_on")}</label><input id="first-day" type="date" value={day} onInput={(event) => setDay(event.currentTarget.value)} /></span>
        <span class="sx-field"><label for="first-time">{t("staff.field.start_at_ms")} <small class="sx-default">{t("staff.start.default")}</small></label><input id="first-time" value={time} maxLength={5} onInput={(event) => setTime(event.currentTarget.value)} /></span>
        <Choice id="first-kind" label={t("staff.field.kind")} value={kind} choices={KINDS.map((one) => [one, t(`staff.kind.${one}`)])} onPick={(one) => setKind(one as StageKind)} />
        <span class="sx-field"><label for="first-gpx">{t("staff.start.gpx")}</label><input id="first-gpx" type="file" accept=".gpx,application/gpx+xml" onChange={(event) => setFile(event.currentTarget.files?.[0] ?? null)} /></span>
        {file === null && field("length", t("staff.start.length"))}
      </div>
      {file === null && <p class="sx-quiet">{t("staff.start.straight")}</p>}
      <fieldset class="sx-shared"><legend>{t("staff.start.weather")}</legend>
        {field("start", t("staff.start.at_start"))}{field("warmest", t("staff.start.warmest"))}{field("humidity", t("staff.start.humidity"))}{field("wind", t("staff.start.wind"))}{field("cloud", t("staff.start.cloud"))}
      </fieldset>
      <p class="sx-quiet">{t("staff.start.weather_what")}</p>
      <button type="submit" class="button button-quiet button-act">{t("staff.start.keep_stage")}</button>
      <Answer said={said} />
    </form>
  );
}

/** A test is better; the population's sodium will do for a first plan, and every plan says that it rests on it. */
function TestOrDefault({ stage }: { stage: Stage }) {
  const [said, setSaid] = useState("");
  const [isBusy, setBusy] = useState(false);
  const send = async (): Promise<void> => {
    setBusy(true);
    setSaid(t("staff.start.planning"));
    setSaid(await publish(stage.id));
    await exchange();
    setBusy(false);
  };
  const isOut = docsOf("stage_plan").some((plan) => plan.stage_id === stage.id && plan.status === "published");
  return (
    <div class="sx-bare">
      <p>{t("staff.start.test_what")}</p>
      <p class="flag flag-caution">{t("staff.start.caution")}</p>
      <p class="sx-line">
        <a class="button button-quiet" href={href("sweat-day", "test")}>{t("staff.start.test_enter")}</a>
        {!isOut && <Button kind="act" isDisabled={isBusy} onPress={() => void send()}>{t("staff.start.publish")}</Button>}
      </p>
      <p role="status" class="sx-said">{said}</p>
      {isOut && <p class="sx-lead">{t("staff.start.done")} <a class="sx-back" href={href("plans", stage.id)}>{t("staff.start.see")}</a></p>}
    </div>
  );
}
