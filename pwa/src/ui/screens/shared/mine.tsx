import { useEffect, useRef, useState } from "preact/hooks";
import type { ComponentType } from "preact";

import { litres, milligrams } from "@/core/display.ts";
import { dayHere, momentHere } from "@/core/here.ts";
import { docsOf, session } from "@/store/state.ts";
import { call, get, post, put } from "@/sync/api.ts";
import { Button } from "@/ui/parts/button.tsx";
import { focusKept, Sure, useSaid } from "@/ui/parts/sure.tsx";
import { href } from "@/ui/route.ts";
import { language, spoken, t } from "@/ui/words.ts";

interface Notice {
  readonly name: string;
  readonly version: number;
  readonly dated: string;
  readonly sort: "notice" | "choice";
  readonly is_due: boolean;
  readonly is_agreed: boolean;
  readonly answered_at_ms: number | null;
}

interface Preview {
  readonly grace_days: number;
  readonly facts: Readonly<Record<string, number>>;
  readonly documents: Readonly<Record<string, number>>;
  readonly n_aside: number;
  readonly n_devices: number;
  readonly n_answers: number;
  readonly stays: readonly string[];
  readonly due_at_ms: number | null;
}

const total = (counts: Readonly<Record<string, number>>): number => Object.values(counts).reduce((sum, n) => sum + n, 0);

/** Ask the server; what it cannot be asked is said, and nothing here changes meanwhile. */
function useAsking(): [string, boolean, (act: () => Promise<void>, done?: string) => Promise<void>] {
  const [said, setSaid] = useState("");
  const [isBusy, setBusy] = useState(false);
  const ask = async (act: () => Promise<void>, done = ""): Promise<void> => {
    const refocus = focusKept();
    setBusy(true);
    try {
      await act();
      setSaid(done);
    } catch {
      setSaid(t("mine.offline"));
    }
    setBusy(false);
    refocus();
  };
  return [said, isBusy, ask];
}

function Copy() {
  const [url, setUrl] = useState<string | null>(null);
  const [said, isBusy, ask] = useAsking();
  const link = useRef<HTMLAnchorElement>(null);
  useEffect(() => link.current?.focus(), [url]);
  const make = async (): Promise<void> => {
    const reply = await call("GET", `/api/me/copy?language=${language.value}`);
    if (!reply.ok) throw new Error(String(reply.status));
    setUrl(URL.createObjectURL(await reply.blob()));
  };
  return (
    <section class="group" aria-labelledby="mine-copy">
      <h2 id="mine-copy">{t("mine.copy")}</h2>
      <p>{t("mine.copyWhat")}</p>
      <div class="acts">
        {url === null ? <Button isDisabled={isBusy} onPress={() => void ask(make)}>{t("mine.copyTake")}</Button> : <a class="button" ref={link} href={url} download="brinebook-my-data.zip">{t("mine.copySave")}</a>}
      </div>
      <p role="status">{said}</p>
    </section>
  );
}

function One({ notice, onAnswer, isBusy }: { notice: Notice; isBusy: boolean; onAnswer: (isAgreed: boolean) => void }) {
  const { name, version, dated, sort, is_due: isDue, is_agreed: isAgreed, answered_at_ms: answeredAtMs } = notice;
  const yes = sort === "choice" ? t("mine.allow") : t("mine.read");
  const no = sort === "choice" ? t("mine.deny") : t("mine.disagree");
  return (
    <li class="group" id={`notice-${name}`}>
      <h3>{spoken(`mine.notice.${name}`) ?? name}</h3>
      <p>{spoken(`mine.notice.${name}.text`) ?? ""}</p>
      <p class="field-hint">{t("mine.version", { version, dated: dayHere(Date.parse(`${dated}T12:00`)) })} {isDue || answeredAtMs === null ? t("mine.due") : t("mine.answered", { answer: isAgreed ? yes : no, day: momentHere(answeredAtMs) })}</p>
      <div class="acts" role="group" aria-label={spoken(`mine.notice.${name}`) ?? name}>
        <Button isDisabled={isBusy} isPressed={!isDue && isAgreed} onPress={() => onAnswer(true)}>{yes}</Button>
        <Button isDisabled={isBusy} isPressed={!isDue && !isAgreed} onPress={() => onAnswer(false)}>{no}</Button>
      </div>
    </li>
  );
}

function Notices() {
  const [notices, setNotices] = useState<readonly Notice[]>([]);
  const [said, isBusy, ask] = useAsking();
  useEffect(() => {
    void ask(async () => setNotices(await get<Notice[]>("/api/me/notices")));
  }, []);
  const answer = async ({ name, version }: Notice, isAgreed: boolean): Promise<void> =>
    setNotices(await post<Notice[]>("/api/me/notices", { name, version, is_agreed: isAgreed }));
  return (
    <section class="group" aria-labelledby="mine-notices">
      <h2 id="mine-notices">{t("mine.notices")}</h2>
      <p>{t("mine.noticesWhat")}</p>
      <ul class="rows" aria-label={t("mine.notices")}>
        {notices.map((notice) => <One key={notice.name} notice={notice} isBusy={isBusy} onAnswer={(isAgreed) => void ask(() => answer(notice, isAgreed))} />)}
      </ul>
      <p role="status">{said}</p>
    </section>
  );
}

function Goes({ told }: { told: Preview }) {
  return (
    <>
      <h3>{t("mine.goes")}</h3>
      <ul class="rows" aria-label={t("mine.goes")}>
        {Object.entries(told.facts).map(([kind, n]) => <li key={kind}>{t("mine.line", { what: spoken(`fact.${kind}`) ?? kind, n })}</li>)}
        <li>{t("mine.line", { what: t("mine.records"), n: total(told.documents) })}</li>
        <li>{t("mine.line", { what: t("mine.devices"), n: told.n_devices })}</li>
        <li>{t("mine.line", { what: t("mine.answers"), n: told.n_answers })}</li>
        <li>{t("mine.line", { what: t("mine.aside"), n: told.n_aside })}</li>
        <li>{t("mine.backups")}</li>
      </ul>
      <h3>{t("mine.stays")}</h3>
      <ul class="rows" aria-label={t("mine.stays")}>{told.stays.map((what) => <li key={what}>{spoken(`mine.stays.${what}`) ?? what}</li>)}</ul>
    </>
  );
}

function Erase() {
  const [told, setTold] = useState<Preview | null>(null);
  const [said, isBusy, ask] = useAsking();
  useEffect(() => {
    void ask(async () => setTold(await get<Preview>("/api/me/erasure")));
  }, []);
  const wish = async (): Promise<void> => {
    setTold(await post<Preview>("/api/me/erasure"));
  };
  const back = async (): Promise<void> => {
    const reply = await call("DELETE", "/api/me/erasure");
    if (!reply.ok) throw new Error(String(reply.status));
    setTold((await reply.json()) as Preview);
  };
  const isWished = told !== null && told.due_at_ms !== null;
  const dueWords = told === null || told.due_at_ms === null ? "" : t("mine.eraseDue", { day: momentHere(told.due_at_ms) });
  const due = useSaid(dueWords);
  const answer = useSaid(said);
  return (
    <section class="group" aria-labelledby="mine-erase">
      <h2 id="mine-erase">{t("mine.erase")}</h2>
      {told !== null && <p>{t("mine.eraseWhat", { days: told.grace_days })}</p>}
      <p class={isWished ? "flag flag-stop" : ""} role="status" tabIndex={-1} ref={due}>{dueWords}</p>
      {isWished && <div class="acts"><Button kind="act" isDisabled={isBusy} onPress={() => void ask(back, t("mine.eraseStays"))}>{t("mine.eraseBack")}</Button></div>}
      {told !== null && <Goes told={told} />}
      {told !== null && !isWished && <Sure isDisabled={isBusy} sure={t("mine.eraseSure", { days: told.grace_days })} onSure={() => void ask(wish)}>{t("mine.eraseAsk")}</Sure>}
      <p role="status" tabIndex={-1} ref={answer}>{said}</p>
    </section>
  );
}

interface Kept {
  readonly sort: string;
  readonly months: number;
  readonly next_months: number | null;
  readonly next_from_ms: number | null;
  readonly least: number;
  readonly most: number;
}

/** The months somebody of this role may choose: an admin all of them, who reads bodies none that are shorter. */
function choices({ months, least, most }: Kept): readonly number[] {
  const role = session.value?.member.role;
  if (role !== "admin" && role !== "doctor" && role !== "physiologist") return [];
  const lowest = role === "admin" ? least : months;
  return Array.from({ length: most - lowest + 1 }, (_, i) => lowest + i);
}

function KeptSort({ kept, isBusy, onSet }: { kept: Kept; isBusy: boolean; onSet: (months: number) => void }) {
  const what = spoken(`mine.months.${kept.sort}`) ?? kept.sort;
  const offered = choices(kept);
  return (
    <li class="fact">
      <span class="fact-said">
        <b>{what}</b>
        <small>{t("mine.monthsNow", { n: kept.months })}</small>
        {kept.next_months !== null && kept.next_from_ms !== null && <small>{t("mine.monthsNext", { day: dayHere(kept.next_from_ms), told: t("mine.monthsNow", { n: kept.next_months }) })}</small>}
      </span>
      {offered.length > 0 && (
        <span class="picker">
          <select aria-label={t("mine.monthsSet", { what })} disabled={isBusy} value={String(kept.next_months ?? kept.months)} onChange={(event) => onSet(Number(event.currentTarget.value))}>
            {[...new Set([...offered, kept.next_months ?? kept.months])].sort((a, b) => a - b).map((n) => <option key={n} value={String(n)}>{t("mine.monthsNow", { n })}</option>)}
          </select>
        </span>
      )}
    </li>
  );
}

function Months() {
  const [sorts, setSorts] = useState<readonly Kept[]>([]);
  const [said, isBusy, ask] = useAsking();
  useEffect(() => {
    void ask(async () => setSorts(await get<Kept[]>("/api/team/months")));
  }, []);
  const set = async (sort: string, months: number): Promise<void> => setSorts(await put<Kept[]>(`/api/team/months/${sort}`, { months }));
  const totals = docsOf("stage_total").filter((one) => one.rider_id === session.value?.member.rider_id);
  return (
    <section class="group" aria-labelledby="mine-months">
      <h2 id="mine-months">{t("mine.months")}</h2>
      <p>{t("mine.monthsWhat")}</p>
      <ul class="rows" aria-label={t("mine.months")}>
        {sorts.map((kept) => <KeptSort key={kept.sort} kept={kept} isBusy={isBusy} onSet={(months) => void ask(() => set(kept.sort, months))} />)}
      </ul>
      {session.value?.member.role === "admin" && <p>{t("mine.monthsShorter")}</p>}
      {totals.length > 0 && <h3>{t("mine.totals")}</h3>}
      {totals.length > 0 && (
        <ul class="rows" aria-label={t("mine.totals")}>
          {totals.map((one) => <li key={one.id}>{t("mine.total", { n: one.stage_number, day: one.day ?? "", drunk: litres(one.drunk_l), lost: one.sweat_loss_l == null ? "–" : litres(one.sweat_loss_l), sodium: milligrams(one.sodium_drunk_mg ?? 0) })}</li>)}
        </ul>
      )}
      <p role="status">{said}</p>
    </section>
  );
}

/** What a person may do with what the server holds about him; the server alone knows, so it needs the network. */
export function Mine() {
  return (
    <main class="page page-slim">
      <header class="page-head">
        <h1>{t("mine.title")}</h1>
        <p>{t("mine.what")}</p>
      </header>
      <p><a class="button button-quiet" href={href("me")}>{t("mine.back")}</a></p>
      <Notices />
      <Copy />
      <Months />
      <Erase />
    </main>
  );
}

export const routes: Record<string, ComponentType> = { mine: Mine };
