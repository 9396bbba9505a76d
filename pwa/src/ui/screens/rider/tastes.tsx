import { useState } from "preact/hooks";

import type { RiderPalate } from "@/protocol/records.ts";
import { doc, docsOf, session } from "@/store/state.ts";
import { put } from "@/sync/api.ts";
import { exchange } from "@/sync/exchange.ts";
import { t } from "@/ui/words.ts";

const WORDS = ["likes", "takes", "never"] as const;
type Word = (typeof WORDS)[number];

const wordOf = ({ likes = [], cannot = [] }: RiderPalate, id: string): Word => (cannot.includes(id) ? "never" : likes.includes(id) ? "likes" : "takes");

/** The palate with one word changed; the others stand. */
export function withWord(palate: RiderPalate, id: string, word: Word): RiderPalate {
  const others = (list: readonly string[] = []): string[] => list.filter((one) => one !== id);
  return {
    ...palate,
    likes: [...others(palate.likes), ...(word === "likes" ? [id] : [])],
    cannot: [...others(palate.cannot), ...(word === "never" ? [id] : [])],
  };
}

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
  const items = [...docsOf("drink"), ...docsOf("food")].sort((a, b) => a.name.localeCompare(b.name));
  const take = async (id: string, word: Word): Promise<void> => {
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
          <select value={wordOf(palate, item.id)} disabled={isBusy} onChange={(event) => void take(item.id, event.currentTarget.value as Word)}>
            {WORDS.map((word) => <option key={word} value={word}>{t(`me.taste.${word}`)}</option>)}
          </select>
        </label>
      ))}
      <p role="status">{said}</p>
    </section>
  );
}
