import { useEffect, useState } from "preact/hooks";
import type { ComponentType } from "preact";

import { fileKind, riderOfFile, type FileKind } from "@/core/ride_files.ts";
import type { Stage } from "@/protocol/records.ts";
import { currentStage, session } from "@/store/state.ts";
import { postFile } from "@/sync/api.ts";
import { exchange } from "@/sync/exchange.ts";
import { mayOpen } from "@/ui/nav.tsx";
import { Button } from "@/ui/parts/button.tsx";
import { Nothing } from "@/ui/parts/nothing.tsx";
import { StagePicker, stageTitle } from "@/ui/parts/stage_picker.tsx";
import { refusal, RideCard } from "@/ui/screens/shared/ride_card.tsx";
import { Rides, ridersToRead } from "@/ui/screens/shared/rides.tsx";
import { t } from "@/ui/words.ts";

const [KEPT, SHARED] = ["brinebook-kept", "/kept/shared"];

interface Shared {
  readonly name: string;
  /** As it came: a FIT file is no text. */
  readonly file: Blob;
  readonly kind: FileKind;
}

async function read(): Promise<Shared | null> {
  const found = await (await caches.open(KEPT)).match(SHARED);
  if (found === undefined) return null;
  const [name, file] = [decodeURIComponent(found.headers.get("X-Name") ?? ""), await found.blob()];
  return { name, file, kind: fileKind(name, await file.slice(0, 4000).text()) };
}

const forget = async (): Promise<boolean> => (await caches.open(KEPT)).delete(SHARED);

async function send(stage: Stage, { file, kind }: Shared): Promise<void> {
  if (kind === "weather") await postFile(`/api/stages/${encodeURIComponent(stage.id)}/forecast`, file, "text/csv");
  else await postFile(`/api/stages/${encodeURIComponent(stage.id)}/course`, file, "application/gpx+xml");
}

const SAID = { road: "sharedFile.course", weather: "sharedFile.forecast", ride: "sharedFile.ride", road_or_ride: "sharedFile.either" } as const;

interface WaitingProps {
  shared: Shared;
  stage: Stage;
  onDone: (said: string) => void;
}

/** A file that waits: what it is, which stage it belongs to, and only then taken. */
function Waiting({ shared, stage, onDone }: WaitingProps) {
  const [fault, setFault] = useState("");
  const [isRide, setRide] = useState(shared.kind === "ride");
  const role = session.value?.member.role ?? "rider";
  const mayPlan = role === "physiologist" || role === "admin";
  const mayRide = mayOpen(role, "rides") && (shared.kind === "ride" || shared.kind === "road_or_ride");
  const take = async (): Promise<void> => {
    setFault("");
    try {
      await send(stage, shared);
      await forget();
      onDone(t("sharedFile.taken", { stage: stageTitle(stage) }));
      void exchange();
    } catch (problem) {
      setFault(refusal(problem));
    }
  };
  const drop = (): void => void forget().then(() => onDone(""));
  if (!mayPlan && !mayRide) return <><p class="flag flag-caution">{t("sharedFile.not")}</p><div class="acts"><Button onPress={drop}>{t("sharedFile.drop")}</Button></div></>;
  const riders = ridersToRead();
  if (mayRide && (isRide || !mayPlan)) {
    return (
      <>
        <StagePicker />
        <RideCard
          file={shared.file} name={shared.name} stage={stage} riders={riders} onDrop={drop} onKept={() => void forget()}
          rider={riders.length === 1 ? (riders[0] ?? null) : riderOfFile(shared.name, riders)}
        />
      </>
    );
  }
  return (
    <>
      <p>{t(SAID[shared.kind], { name: shared.name })}</p>
      <StagePicker />
      {fault !== "" && <p class="fault" role="alert">{fault}</p>}
      <div class="acts">
        <Button kind="act" onPress={() => void take()}>{t("sharedFile.take")}</Button>
        {mayRide && <Button onPress={() => setRide(true)}>{t("sharedFile.as_ride")}</Button>}
        <Button onPress={drop}>{t("sharedFile.drop")}</Button>
      </div>
    </>
  );
}

/** A course, a forecast or a ride shared from another app: it waits on this phone until a stage has taken it. */
export function SharedFile() {
  const [shared, setShared] = useState<Shared | null>(null);
  const [said, setSaid] = useState<string | null>(null);
  useEffect(() => void read().then(setShared), []);
  const stage = currentStage.value;
  if (stage === null) return <Nothing title={t("sharedFile.title")} />;
  return (
    <main class="page">
      <header class="page-head"><h1>{t("sharedFile.title")}</h1></header>
      {shared === null && !said && <p>{t("sharedFile.none")}</p>}
      {shared !== null && <Waiting shared={shared} stage={stage} onDone={(text) => { setShared(null); setSaid(text); }} />}
      <p role="status">{said ?? ""}</p>
    </main>
  );
}

export const routes: Record<string, ComponentType> = { shared: SharedFile, rides: Rides };
