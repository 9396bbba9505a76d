import { useState } from "preact/hooks";

import { byName } from "@/core/display.ts";
import { TASTE_WORDS, type TasteWord, withWord, wordOf } from "@/core/palate.ts";
import type { Allergen, Rider, RiderPalate } from "@/protocol/records.ts";
import { doc, docsOf, session } from "@/store/state.ts";
import { put } from "@/sync/api.ts";
import { exchange } from "@/sync/exchange.ts";
import { problemSentence } from "@/ui/screens/staff/acts.ts";
import { riders } from "@/ui/screens/staff/look.ts";
import { Allergens } from "@/ui/screens/staff/pantry.tsx";
import { NothingYet } from "@/ui/screens/staff/parts.tsx";
import { t } from "@/ui/words.ts";

const EDITORS: ReadonlySet<string> = new Set(["physiologist", "admin", "doctor"]);

function OneRider({ rider }: { rider: Rider }) {
  const kept = doc<RiderPalate>(`rider_palate:${rider.id}`) ?? { id: rider.id, version: 0 };
  const [palate, setPalate] = useState<RiderPalate>(kept);
  const [said, setSaid] = useState("");
  const mayEdit = EDITORS.has(session.value?.member.role ?? "");
  const items = [...docsOf("drink"), ...docsOf("food")].sort((a, b) => byName(a.name, b.name));
  const set = (next: RiderPalate): void => {
    setPalate(next);
    setSaid("");
  };
  const save = async (): Promise<void> => {
    try {
      const stored = await put<RiderPalate>(`/api/rider-palates/${rider.id}`, { ...palate, version: kept.version ?? 0 });
      setPalate(stored);
      setSaid(t("staff.tastes.kept"));
      void exchange();
    } catch (problem) {
      setSaid(problemSentence(problem));
    }
  };
  return (
    <section class="sx-panel" aria-labelledby={`taste-${rider.id}`}>
      <h2 id={`taste-${rider.id}`}><span class="sx-no">{rider.race_number}</span> {rider.name}</h2>
      <ul class="sx-taste">
        {items.map((item) => (
          <li key={item.id}>
            <label for={`t-${rider.id}-${item.id}`}>{item.name}</label>
            <select id={`t-${rider.id}-${item.id}`} disabled={!mayEdit} value={wordOf(palate, item.id)} onChange={(event) => set(withWord(palate, item.id, event.currentTarget.value as TasteWord))}>
              {TASTE_WORDS.map((word) => <option key={word} value={word}>{t(`staff.tastes.${word}`)}</option>)}
            </select>
          </li>
        ))}
      </ul>
      {mayEdit && <Allergens value={palate.cannot_allergens ?? []} legend={t("staff.tastes.allergens")} onValue={(list: Allergen[]) => set({ ...palate, cannot_allergens: list })} />}
      {mayEdit && <button type="button" class="button button-quiet button-act" onClick={() => void save()}>{t("staff.tastes.save")}</button>}
      <p role="status" class="sx-said">{said}</p>
    </section>
  );
}

/** What riders like and cannot take, one rider at a time; why is between the rider and the doctor. */
export function Tastes() {
  const [riderId, setRiderId] = useState<string | null>(null);
  const rider = riders.value.find((one) => one.id === riderId) ?? riders.value[0];
  if (rider === undefined) return <NothingYet />;
  return (
    <div class="sx-bare">
      <div class="sx-chips" role="group" aria-label={t("staff.rider")}>
        {riders.value.map((one) => <button key={one.id} type="button" class={one.id === rider.id ? "sx-chip sx-chip-on" : "sx-chip"} aria-pressed={one.id === rider.id} onClick={() => setRiderId(one.id)}>{one.race_number} {one.name}</button>)}
      </div>
      <OneRider key={rider.id} rider={rider} />
    </div>
  );
}
