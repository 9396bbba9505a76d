import { useState } from "preact/hooks";

import { byName } from "@/core/display.ts";
import { TASTE_WORDS, type TasteWord, withWord, wordOf } from "@/core/palate.ts";
import type { RiderPalate } from "@/protocol/records.ts";
import { doc, docsOf, session } from "@/store/state.ts";
import { put } from "@/sync/api.ts";
import { exchange } from "@/sync/exchange.ts";
import { t } from "@/ui/words.ts";

/** What a rider likes and never takes, said by himself. It needs the network: plans are made again on the server. */
export function MyTastes() {
  const riderId = session.value?.member.rider_id ?? null;
  const [stored, setStored] = useState<RiderPalate | null>(null);
  const [said, setSaid] = useState("");
  const [isBusy, setBusy] = useState(false);
  if (riderId === null) return null;
  const known = doc<RiderPalate>(`rider_palate:${riderId}`);
  const palate = [stored, known].filter((one) => one !== null && one !== undefined)
    .sort((a, b) => (b.version ?? 0) - (a.version ?? 0))[0] ?? { id: riderId, version: 0 };
  const items = [...docsOf("drink"), ...docsOf("food")].sort((a, b) => byName(a.name, b.name));
  const take = async (id: string, word: TasteWord): Promise<void> => {
    setBusy(true);
    try {
      setStored(await put<RiderPalate>(`/api/rider-palates/${encodeURIComponent(riderId)}`, withWord(palate, id, word)));
      setSaid(t("me.tasteKept"));
      void exchange();
    } catch {
      setSaid(t("me.tasteNotKept"));
    }
    setBusy(false);
  };
  if (items.length === 0) return null;
  return (
    <section class="group" aria-labelledby="tastes" aria-busy={isBusy}>
      <h2 id="tastes">{t("me.tastes")}</h2>
      <p>{t("me.tastesWhat")}</p>
      {items.map((item) => (
        <label class="picker" key={item.id}>
          <span>{item.name}</span>
          <select value={wordOf(palate, item.id)} disabled={isBusy} onChange={(event) => void take(item.id, event.currentTarget.value as TasteWord)}>
            {TASTE_WORDS.map((word) => <option key={word} value={word}>{t(`me.taste.${word}`)}</option>)}
          </select>
        </label>
      ))}
      <p role="status">{said}</p>
    </section>
  );
}
