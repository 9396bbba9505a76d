import { useEffect, useState } from "preact/hooks";

import { momentHere, toldApart } from "@/core/here.ts";
import type { FactEvent, Member, Verdict } from "@/protocol/records.ts";
import { get, post } from "@/sync/api.ts";
import { exchangeSoon } from "@/sync/when.ts";
import { Button } from "@/ui/parts/button.tsx";
import { useSaid } from "@/ui/parts/sure.tsx";
import { keysProblem } from "@/ui/screens/staff/acts.ts";
import { riders, riderTitle } from "@/ui/screens/staff/look.ts";
import { eventText } from "@/ui/screens/staff/settle_events.tsx";
import { spoken, t } from "@/ui/words.ts";

interface Aside {
  readonly n: number;
  readonly by: string;
  readonly subject_id: string;
  readonly at_ms: number;
  readonly kind?: string;
  readonly body?: Readonly<Record<string, unknown>>;
}


function aboutWhom(id: string): string {
  const rider = riders.value.find((one) => one.id === id);
  return rider === undefined ? t("staff.keys.aside_team") : riderTitle(rider);
}

/** Plain values of the entry, as they were noted; what hangs deeper is left to the book once it is kept. */
function valuesOf(body: Aside["body"]): string {
  return Object.entries(body ?? {}).flatMap(([name, value]) => (typeof value === "object" ? [] : [`${name.replaceAll("_", " ")} ${String(value)}`])).join(", ");
}

/** Kinds whose sentence says what it was by itself. */
const SAID: ReadonlySet<string> = new Set(["weighed", "handed_up", "came_back", "poured", "lost", "drank", "ate", "agreed", "reopened"]);

function whatWas({ kind, body }: Aside): string {
  if (kind === undefined) return t("staff.keys.aside_hidden");
  if (SAID.has(kind)) return eventText({ kind, body } as FactEvent);
  const values = kind === "note" ? String(body?.text ?? "") : valuesOf(body);
  const word = spoken(`fact.${kind}`) ?? kind;
  return values === "" ? word : `${word}: ${values}`;
}

function Line({ one, what, author, onDecide }: { one: Aside; what: string; author: string; onDecide: (act: "kept" | "left") => void }) {
  return (
    <li>
      <span><b>{whatWas(one)}</b><small>{aboutWhom(one.subject_id)} · {momentHere(one.at_ms)} · {t("staff.keys.aside_by", { name: author })}</small></span>
      <span class="acts">
        <Button kind="quiet" label={t("staff.keys.aside_keep_who", { what })} onPress={() => onDecide("kept")}>{t("staff.keys.aside_keep")}</Button>
        <Button kind="quiet" label={t("staff.keys.aside_leave_who", { what })} onPress={() => onDecide("left")}>{t("staff.keys.aside_leave")}</Button>
      </span>
    </li>
  );
}

/** What signed-out devices handed in afterwards: an admin keeps each entry as its author's, or leaves it aside. */
export function AsideList({ people }: { people: readonly Member[] }) {
  const [found, setFound] = useState<readonly Aside[] | null>(null);
  const [said, setSaid] = useState("");
  const read = async (): Promise<void> => {
    try {
      setFound(await get<Aside[]>("/api/team/aside"));
    } catch (problem) {
      setSaid(keysProblem(problem));
    }
  };
  useEffect(() => void read(), []);
  const decide = async (one: Aside, act: "kept" | "left"): Promise<void> => {
    let text = "";
    try {
      const verdict = await post<Verdict>(`/api/team/aside/${one.n}`, { act });
      const isDone = verdict.status === "ok" || verdict.status === "dup";
      text = isDone ? t(`staff.keys.aside_${act}`) : t("staff.keys.aside_not", { why: verdict.limit || verdict.code || "" });
      if (isDone) exchangeSoon();
    } catch (problem) {
      text = keysProblem(problem);
    }
    await read();
    setSaid(text);
  };
  const authorOf = (id: string): string => people.find((one) => one.id === id)?.name ?? t("staff.somebody");
  const labels = toldApart((found ?? []).map((one) => `${whatWas(one)}, ${aboutWhom(one.subject_id)}, ${momentHere(one.at_ms)}, ${authorOf(one.by)}`));
  const told = useSaid(said);
  return (
    <section class="sx-panel" aria-labelledby="aside">
      <h2 id="aside">{t("staff.keys.aside")}</h2>
      <p class="sx-quiet">{t("staff.keys.aside_what")}</p>
      <p role="status" tabIndex={-1} ref={told}>{said}</p>
      {found?.length === 0 && <p>{t("staff.keys.aside_none")}</p>}
      <ul class="sx-ring-aside">
        {(found ?? []).map((one, i) => <Line key={one.n} one={one} what={labels[i] ?? ""} author={authorOf(one.by)} onDecide={(act) => void decide(one, act)} />)}
      </ul>
    </section>
  );
}
