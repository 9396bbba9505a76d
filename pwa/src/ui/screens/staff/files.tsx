import { useState } from "preact/hooks";

import type { Drink, Rider, RiderBody, WeighedBody } from "@/protocol/records.ts";
import { weighed } from "@/store/commands.ts";
import { docsOf } from "@/store/state.ts";
import { call, postFile, Problem, put } from "@/sync/api.ts";
import { exchange } from "@/sync/exchange.ts";
import { Button } from "@/ui/parts/button.tsx";
import { problemSentence } from "@/ui/screens/staff/acts.ts";
import { canEdit, raced, riders, seesMass } from "@/ui/screens/staff/look.ts";
import { Answer, Head, type Said, stageTitle } from "@/ui/screens/staff/parts.tsx";
import { Choice } from "@/ui/screens/staff/sweat_samples.tsx";
import { t } from "@/ui/words.ts";

/** Data out, data in, and the evening report. What comes in is shown before anything is kept. */
export function FilesScreen() {
  return (
    <main class="sx sx-files-page">
      <Head title={t("staff.files.title")} said={t("staff.files.what")} />
      <div class="sx-plan-notes">
        {seesMass.value && <Report />}
        {seesMass.value && <Out />}
        {canEdit.value && <In />}
      </div>
    </main>
  );
}

/** Fetch with this device's key, then hand the file to the browser under its name. */
async function take(path: string, name: string): Promise<void> {
  const reply = await call("GET", path);
  if (!reply.ok) throw new Problem(reply.status, (await reply.json().catch(() => ({}))) as Record<string, unknown>);
  const url = URL.createObjectURL(await reply.blob());
  const link = document.createElement("a");
  link.href = url;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), 60_000);
}

function useTaking(): [Said | null, (path: string, name: string) => Promise<void>] {
  const [said, setSaid] = useState<Said | null>(null);
  const go = async (path: string, name: string): Promise<void> => {
    setSaid({ text: t("staff.files.making", { name }), isFault: false });
    try {
      await take(path, name);
      setSaid({ text: t("staff.files.taken", { name }), isFault: false });
    } catch (problem) {
      setSaid({ text: problemSentence(problem), isFault: true });
    }
  };
  return [said, go];
}

function Report() {
  const settled = new Set(docsOf("settlement").map((one) => one.stage_id));
  const stages = raced.value.filter((stage) => settled.has(stage.id));
  const [chosen, setChosen] = useState("");
  const [said, go] = useTaking();
  const stage = stages.find((one) => one.id === chosen) ?? stages.at(-1);
  return (
    <section aria-labelledby="report-title">
      <h2 id="report-title">{t("staff.files.report")}</h2>
      <p>{t("staff.files.report_what")}</p>
      {stage === undefined ? <p class="sx-quiet">{t("staff.rider_page.none")}</p> : (
        <>
          <Choice id="report-stage" label={t("staff.stage")} value={stage.id} choices={stages.map((one) => [one.id, stageTitle(one)])} onPick={setChosen} />
          <p><Button kind="quiet" onPress={() => void go(`/api/stages/${stage.id}/sheets/report`, `report-${stage.number}.pdf`)}>{t("staff.files.report_take")}</Button></p>
        </>
      )}
      <Answer said={said} />
    </section>
  );
}

const TABLES = ["settled", "facts", "plans"] as const;
const FORMS = ["csv", "xlsx", "parquet", "json"] as const;

function Out() {
  const [table, setTable] = useState<string>("settled");
  const [form, setForm] = useState<(typeof FORMS)[number]>("xlsx");
  const [purpose, setPurpose] = useState("");
  const [isOutside, setOutside] = useState(false);
  const [said, go] = useTaking();
  const what = form === "xlsx" || form === "json" ? "all" : table;
  const path = `/api/export/${what}?form=${form}&purpose=${encodeURIComponent(purpose.trim() === "" ? "own use" : purpose.trim())}${isOutside ? "&reach=outside" : ""}`;
  return (
    <section aria-labelledby="out-title">
      <h2 id="out-title">{t("staff.files.out")}</h2>
      <p>{t("staff.files.out_what")}</p>
      <div class="sx-shared">
        <Choice id="out-form" label={t("staff.files.form")} value={form} choices={FORMS.map((one) => [one, t(`staff.files.form_${one}`)])} onPick={(one) => setForm(one as "csv")} />
        {what !== "all" && <Choice id="out-table" label={t("staff.files.table")} value={table} choices={TABLES.map((one) => [one, t(`staff.files.table_${one}`)])} onPick={setTable} />}
        <span class="sx-field"><label for="out-purpose">{t("staff.files.purpose")}</label><input id="out-purpose" value={purpose} maxLength={80} onInput={(event) => setPurpose(event.currentTarget.value)} /></span>
        <label class="sx-tick"><input type="checkbox" checked={isOutside} onChange={(event) => setOutside(event.currentTarget.checked)} /> {t("staff.files.outside")}</label>
      </div>
      <p><Button kind="quiet" onPress={() => void go(path, `brinebook-${what}.${form}`)}>{t("staff.files.take")}</Button></p>
      <Answer said={said} />
    </section>
  );
}

type Kind = "roster" | "weigh-ins" | "drinks";
interface RosterRow { rider: Rider; body: RiderBody }
interface WeighRow { stage: number; number: number; body: WeighedBody }
type Row = RosterRow | WeighRow | Drink;

function In() {
  const [kind, setKind] = useState<Kind>("roster");
  const [text, setText] = useState("");
  const [rows, setRows] = useState<readonly Row[] | null>(null);
  const [said, setSaid] = useState<Said | null>(null);
  const read = async (): Promise<void> => {
    try {
      const told = await postFile<{ rows: Row[] }>(`/api/import/${kind}`, text, "text/csv");
      setRows(told.rows);
      setSaid({ text: t("staff.files.read", { n: told.rows.length }), isFault: false });
    } catch (problem) {
      setRows(null);
      setSaid({ text: problemSentence(problem), isFault: true });
    }
  };
  const keep = async (): Promise<void> => {
    try {
      const n = await keepRows(kind, rows ?? []);
      setRows(null);
      setText("");
      setSaid({ text: t("staff.files.kept", { n }), isFault: false });
      void exchange();
    } catch (problem) {
      setSaid({ text: problem instanceof Missing ? t("staff.files.missing", { stage: problem.stage, number: problem.number }) : problemSentence(problem), isFault: true });
    }
  };
  return (
    <section aria-labelledby="in-title">
      <h2 id="in-title">{t("staff.files.in")}</h2>
      <p>{t("staff.files.in_what")}</p>
      <Choice id="in-kind" label={t("staff.files.kind")} value={kind} choices={(["roster", "weigh-ins", "drinks"] as const).map((one) => [one, t(`staff.files.kind_${one}`)])} onPick={(one) => { setKind(one as Kind); setRows(null); setSaid(null); }} />
      <p class="sx-hint">{t(`staff.files.columns_${kind}`)}</p>
      <div class="sx-field"><label for="in-text">{t("staff.book.forecast_paste")}</label>
        <textarea id="in-text" class="sx-code" rows={6} wrap="off" spellcheck={false} value={text} onInput={(event) => { setText(event.currentTarget.value); setRows(null); }} /></div>
      <div class="sx-field"><label for="in-file">{t("staff.book.forecast_file")}</label>
        <input id="in-file" type="file" accept=".csv,text/csv,.tsv" onChange={(event) => { void event.currentTarget.files?.[0]?.text().then((found) => { setText(found); setRows(null); }); }} /></div>
      <p class="sx-line">
        <Button kind="quiet" isDisabled={text.trim() === ""} onPress={() => void read()}>{t("staff.files.look")}</Button>
        <Button kind="quiet" isDisabled={rows === null} onPress={() => void keep()}>{t("staff.files.keep")}</Button>
      </p>
      {rows !== null && <Preview rows={rows} />}
      <Answer said={said} />
    </section>
  );
}

function Preview({ rows }: { rows: readonly Row[] }) {
  return (
    <div class="sx-scroll" tabIndex={0} role="region" aria-label={t("staff.files.preview")}>
      <table class="sx-table"><tbody>{rows.slice(0, 40).map((row, i) => <tr key={i}><th scope="row" class="sx-num">{i + 1}</th><td>{plain(row)}</td></tr>)}</tbody></table>
    </div>
  );
}

function plain(row: Row): string {
  if ("rider" in row) return `${row.rider.race_number} ${row.rider.name} · ${row.body.mass_kg} kg · ${row.body.height_m} m · ${row.body.age_years}`;
  if ("body" in row) return `${t("staff.stage")} ${row.stage} · ${row.number} · ${t(`staff.settle.${row.body.moment}`)} ${row.body.mass_kg} kg`;
  return `${row.name} (${row.short_name}) · ${row.sodium_mg_per_l} mg/L`;
}

class Missing extends Error {
  readonly stage: number;
  readonly number: number;

  constructor(stage: number, number: number) {
    super("missing");
    this.stage = stage;
    this.number = number;
  }
}

const versionOf = (all: readonly { id: string; version?: number }[], id: string): number => all.find((one) => one.id === id)?.version ?? 0;

async function keepRows(kind: Kind, rows: readonly Row[]): Promise<number> {
  if (kind === "weigh-ins") return keepWeighIns(rows as readonly WeighRow[]);
  for (const row of rows) {
    if (kind === "roster") {
      const { rider, body } = row as RosterRow;
      await put(`/api/riders/${rider.id}`, { ...rider, version: versionOf(riders.value, rider.id) });
      await put(`/api/rider-bodies/${body.id}`, { ...body, version: versionOf(docsOf("rider_body"), body.id) });
    } else {
      const drink = row as Drink;
      await put(`/api/drinks/${drink.id}`, { ...drink, version: versionOf(docsOf("drink"), drink.id) });
    }
  }
  return rows.length;
}

/** All riders and stages are found before the first fact is added: half a table is worse than none. */
async function keepWeighIns(rows: readonly WeighRow[]): Promise<number> {
  const found = rows.map((row) => {
    const rider = riders.value.find((one) => one.race_number === row.number);
    const stage = raced.value.find((one) => one.number === row.stage);
    if (rider === undefined || stage === undefined) throw new Missing(row.stage, row.number);
    return { rider, stage, body: row.body };
  });
  for (const { rider, stage, body } of found) await weighed(rider.id, stage.id, body);
  return found.length;
}
