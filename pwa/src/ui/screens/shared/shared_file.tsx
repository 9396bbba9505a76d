import { useEffect, useState } from "preact/hooks";
import type { ComponentType } from "preact";

import type { Stage } from "@/protocol/records.ts";
import { currentStage, session } from "@/store/state.ts";
import { postFile, Problem } from "@/sync/api.ts";
import { exchange } from "@/sync/exchange.ts";
import { Button } from "@/ui/parts/button.tsx";
import { Nothing } from "@/ui/parts/nothing.tsx";
import { StagePicker, stageTitle } from "@/ui/parts/stage_picker.tsx";
import { spoken, t } from "@/ui/words.ts";

const [KEPT, SHARED] = ["brinebook-kept", "/kept/shared"];

interface Shared {
  readonly name: string;
  readonly text: string;
}

async function read(): Promise<Shared | null> {
  const found = await (await caches.open(KEPT)).match(SHARED);
  if (found === undefined) return null;
  return { name: decodeURIComponent(found.headers.get("X-Name") ?? ""), text: await found.text() };
}

const forget = async (): Promise<boolean> => (await caches.open(KEPT)).delete(SHARED);
const isCourse = ({ name, text }: Shared): boolean => /\.gpx$/i.test(name) || /<gpx[\s>]/i.test(text.slice(0, 2000));

async function send(stage: Stage, shared: Shared): Promise<void> {
  if (isCourse(shared)) await postFile(`/api/stages/${encodeURIComponent(stage.id)}/course`, shared.text, "application/gpx+xml");
  else await postFile(`/api/stages/${encodeURIComponent(stage.id)}/forecast`, shared.text, "text/csv");
}

function sentenceOf(problem: unknown): string {
  if (!(problem instanceof Problem)) return t("join.failed");
  return spoken(`problem.${problem.code}`, { limit: problem.limit }) ?? ([problem.detail, problem.limit].filter(Boolean).join(" ") || t("join.failed"));
}

/** A course or a forecast shared from another app: it waits on this phone until a stage has taken it. */
export function SharedFile() {
  const [shared, setShared] = useState<Shared | null>(null);
  const [said, setSaid] = useState("");
  const [fault, setFault] = useState("");
  useEffect(() => void read().then(setShared), []);
  const stage = currentStage.value;
  const mayPlan = session.value?.member.role === "physiologist" || session.value?.member.role === "admin";
  if (stage === null) return <Nothing title={t("sharedFile.title")} />;
  const take = async (): Promise<void> => {
    if (shared === null) return;
    setFault("");
    try {
      await send(stage, shared);
      await forget();
      setShared(null);
      setSaid(t("sharedFile.taken", { stage: stageTitle(stage) }));
      void exchange();
    } catch (problem) {
      setFault(sentenceOf(problem));
    }
  };
  return (
    <main class="page">
      <header class="page-head"><h1>{t("sharedFile.title")}</h1></header>
      {shared === null && said === "" && <p>{t("sharedFile.none")}</p>}
      {shared !== null && !mayPlan && <p class="flag flag-caution">{t("sharedFile.not")}</p>}
      {shared !== null && mayPlan && (
        <>
          <p>{t(isCourse(shared) ? "sharedFile.course" : "sharedFile.forecast", { name: shared.name })}</p>
          <StagePicker />
          {fault !== "" && <p class="fault" role="alert">{fault}</p>}
          <div class="acts">
            <Button kind="act" onPress={() => void take()}>{t("sharedFile.take")}</Button>
            <Button onPress={() => void forget().then(() => setShared(null))}>{t("sharedFile.drop")}</Button>
          </div>
        </>
      )}
      <p role="status">{said}</p>
    </main>
  );
}

export const routes: Record<string, ComponentType> = { shared: SharedFile };
