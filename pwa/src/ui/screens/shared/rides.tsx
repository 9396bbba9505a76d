import { useState } from "preact/hooks";

import { riderOfFile } from "@/core/ride_files.ts";
import type { Rider } from "@/protocol/records.ts";
import { currentStage, docsOf, session } from "@/store/state.ts";
import { Nothing } from "@/ui/parts/nothing.tsx";
import { StagePicker } from "@/ui/parts/stage_picker.tsx";
import { RideCard } from "@/ui/screens/shared/ride_card.tsx";
import { t } from "@/ui/words.ts";

/** Whose rides this person may read in: a rider his own, those who measure everybody's. */
export function ridersToRead(): Rider[] {
  const own = session.value?.rider ?? null;
  if (session.value?.member.role === "rider") return own === null ? [] : [own];
  return docsOf("rider").sort((a, b) => a.race_number - b.race_number);
}

interface Chosen {
  readonly n: number;
  readonly file: File;
}

/** Rides as ridden: several files at once, each looked at before it is kept. */
export function Rides() {
  const [files, setFiles] = useState<readonly Chosen[]>([]);
  const [count, setCount] = useState(0);
  const stage = currentStage.value;
  const riders = ridersToRead();
  if (stage === null || stage.kind === "rest") {
    return stage === null ? <Nothing title={t("ride.title")} /> : <main class="page"><h1>{t("ride.title")}</h1><StagePicker /><p>{t("ride.rest")}</p></main>;
  }
  const add = (chosen: FileList | null): void => {
    const more = [...(chosen ?? [])].map((file, i) => ({ n: count + i, file }));
    setCount(count + more.length);
    setFiles([...files, ...more]);
  };
  return (
    <main class="page">
      <header class="page-head"><h1>{t("ride.title")}</h1><p>{t("ride.what")}</p></header>
      <StagePicker />
      <label class="picker">
        <span>{t("ride.choose")}</span>
        <input type="file" multiple accept=".fit,.tcx,.gpx" onChange={(event) => { add(event.currentTarget.files); event.currentTarget.value = ""; }} />
      </label>
      {files.map(({ n, file }) => (
        <RideCard
          key={n} file={file} name={file.name} stage={stage} riders={riders}
          rider={riders.length === 1 ? (riders[0] ?? null) : riderOfFile(file.name, riders)}
          onDrop={() => setFiles(files.filter((one) => one.n !== n))}
        />
      ))}
    </main>
  );
}
