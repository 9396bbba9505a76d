import { useEffect, useState } from "preact/hooks";

import { hereZone, stageDay, stageTime } from "@/core/display.ts";
import type { Member, Verdict } from "@/protocol/records.ts";
import { get, post } from "@/sync/api.ts";
import { exchangeSoon } from "@/sync/when.ts";
import { Button } from "@/ui/parts/button.tsx";
import { keysProblem } from "@/ui/screens/staff/acts.ts";
import { riders, riderTitle } from "@/ui/screens/staff/look.ts";
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

function Line({ one, author, onDecide }: { one: Aside; author: string; onDecide: (act: "kept" | "left") => void }) {
  const what = one.kind === undefined ? t("staff.keys.aside_hidden") : (spoken(`fact.${one.kind}`) ?? one.kind);
  const who = `${what}, ${aboutWhom(one.subject_id)}, ${stageTime(one.at_ms, hereZone())}`;
  return (
    <li>
      <b>{what}</b> {aboutWhom(one.subject_id)}, {stageDay(one.at_ms, hereZone())} {stageTime(one.at_ms, hereZone())}{" "}
      <small>{t("staff.keys.aside_by", { name: author })} {valuesOf(one.body)}</small>{" "}
      <Button label={t("staff.keys.aside_keep_who", { what: who })} onPress={() => onDecide("kept")}>{t("staff.keys.aside_keep")}</Button>
      <Button kind="quiet" label={t("staff.keys.aside_leave_who", { what: who })} onPress={() => onDecide("left")}>{t("staff.keys.aside_leave")}</Button>
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
    try {
      const verdict = await post<Verdict>(`/api/team/aside/${one.n}`, { act });
      const isDone = verdict.status === "ok" || verdict.status === "dup";
      setSaid(isDone ? t(`staff.keys.aside_${act}`) : t("staff.keys.aside_not", { why: verdict.limit || verdict.code || "" }));
      if (isDone) exchangeSoon();
    } catch (problem) {
      setSaid(keysProblem(problem));
    }
    await read();
  };
  return (
    <section class="sx-panel" aria-labelledby="aside">
      <h2 id="aside">{t("staff.keys.aside")}</h2>
      <p class="sx-quiet">{t("staff.keys.aside_what")}</p>
      <p role="status">{said}</p>
      {found?.length === 0 && <p>{t("staff.keys.aside_none")}</p>}
      <ul class="sx-plain">
        {(found ?? []).map((one) => (
          <Line key={one.n} one={one} author={people.find(({ id }) => id === one.by)?.name ?? "?"} onDecide={(act) => void decide(one, act)} />
        ))}
      </ul>
    </section>
  );
}
