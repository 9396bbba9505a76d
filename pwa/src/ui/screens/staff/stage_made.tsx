import { useState } from "preact/hooks";

import { hasPlaces, placeNear } from "@/core/race_book.ts";
import { checked, type FieldRule } from "@/core/sweat_day.ts";
import type { Stage } from "@/protocol/records.ts";
import { stages } from "@/store/state.ts";
import { makeCourse, problemSentence, sendProfile } from "@/ui/screens/staff/acts.ts";
import { FileField } from "@/ui/screens/staff/file_field.tsx";
import { Answer, NumberField, type Said } from "@/ui/screens/staff/parts.tsx";
import { t } from "@/ui/words.ts";

const RULES = {
  length: { name: "length_km", unit: "km", low: 1, high: 400 },
  gain: { name: "gain_m", unit: "m", low: 0, high: 9000 },
  latitude: { name: "latitude_deg", unit: "°", low: -80, high: 80 },
  longitude: { name: "longitude_deg", unit: "°", low: -180, high: 180 },
} as const satisfies Record<string, FieldRule>;

type Taking = (made: Promise<Stage>) => Promise<boolean>;

/** A road nobody has a track of: from a table of kilometres and heights, or from its kind, length and climbing. */
export function NoTrack({ stage, onStage }: { stage: Stage; onStage: (stage: Stage) => void }) {
  const [said, setSaid] = useState<Said | null>(null);
  const near = placeNear(stages.value, stage);
  const [latitude, setLatitude] = useState(near === null ? "" : near.latitudeDeg.toFixed(2));
  const [longitude, setLongitude] = useState(near === null ? "" : near.longitudeDeg.toFixed(2));
  const take: Taking = async (made) => {
    try {
      const stored = await made;
      onStage(stored);
      setSaid({ text: t("staff.book.course_taken", { n: (stored.course ?? []).length }), isFault: false });
      return true;
    } catch (problem) {
      setSaid({ text: problemSentence(problem), isFault: true });
      return false;
    }
  };
  const place = { latitudeDeg: checked(latitude, RULES.latitude).value, longitudeDeg: checked(longitude, RULES.longitude).value };
  return (
    <details>
      <summary>{t("staff.made.open")}</summary>
      <p>{t("staff.made.what")}</p>
      <div class="sx-shared">
        <NumberField id="made-latitude" label={t("staff.made.latitude")} rule={RULES.latitude} text={latitude} onText={setLatitude} hint={near === null ? undefined : t("staff.made.near")} />
        <NumberField id="made-longitude" label={t("staff.made.longitude")} rule={RULES.longitude} text={longitude} onText={setLongitude} />
      </div>
      <FromTable stage={stage} place={place} take={take} />
      <FromFigures stage={stage} place={place} take={take} />
      <Answer said={said} />
    </details>
  );
}

interface Place {
  readonly latitudeDeg: number | null;
  readonly longitudeDeg: number | null;
}

interface FormProps {
  stage: Stage;
  place: Place;
  take: Taking;
}

function FromTable({ stage, place, take }: FormProps) {
  const [table, setTable] = useState("");
  const send = async (): Promise<void> => {
    if (await take(sendProfile(stage.id, table, hasPlaces(table) ? null : place))) setTable("");
  };
  return (
    <form onSubmit={(event) => { event.preventDefault(); void send(); }}>
      <div class="sx-field sx-full">
        <label for="made-table">{t("staff.made.table")}</label>
        <textarea id="made-table" class="sx-code" rows={5} wrap="off" spellcheck={false} value={table} aria-describedby="made-table-hint" onInput={(event) => setTable(event.currentTarget.value)} />
        <p class="sx-hint" id="made-table-hint">{t("staff.made.table_hint")}</p>
      </div>
      <div class="sx-line">
        <FileField id="made-file" label={t("staff.book.forecast_file")} accept=".csv,text/csv,.tsv" onFile={(file) => void file.text().then(setTable)} />
        <button type="submit" class="button button-quiet" disabled={table.trim() === ""}>{t("staff.made.from_table")}</button>
      </div>
    </form>
  );
}

function FromFigures({ stage, place, take }: FormProps) {
  const [length, setLength] = useState("");
  const [gain, setGain] = useState("");
  const [isTried, setTried] = useState(false);
  const make = async (): Promise<void> => {
    setTried(true);
    const [lengthKm, gainM] = [checked(length, RULES.length).value, checked(gain, RULES.gain).value];
    if (lengthKm === null || gainM === null || place.latitudeDeg === null || place.longitudeDeg === null) return;
    await take(makeCourse(stage.id, { length_km: lengthKm, gain_m: gainM, latitude_deg: place.latitudeDeg, longitude_deg: place.longitudeDeg }));
  };
  return (
    <form class="sx-shared" onSubmit={(event) => { event.preventDefault(); void make(); }}>
      <NumberField id="made-length" label={t("staff.made.length")} rule={RULES.length} text={length} onText={setLength} isShown={isTried} />
      <NumberField id="made-gain" label={t("staff.made.gain")} rule={RULES.gain} text={gain} onText={setGain} isShown={isTried} />
      <button type="submit" class="button button-quiet">{t("staff.made.make", { kind: t(`staff.kind.${stage.kind}`) })}</button>
      {isTried && (place.latitudeDeg === null || place.longitudeDeg === null) && <p class="sx-issue" role="alert">{t("staff.made.place_needed")}</p>}
    </form>
  );
}
