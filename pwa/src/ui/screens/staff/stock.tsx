import { useState } from "preact/hooks";

import { byName, decimal } from "@/core/display.ts";
import { checked } from "@/core/sweat_day.ts";
import type { Stock, StockLine } from "@/protocol/records.ts";
import { delivered, stockCounted } from "@/store/commands.ts";
import { doc, docsOf, session } from "@/store/state.ts";
import { Empty } from "@/ui/screens/staff/parts.tsx";
import { t } from "@/ui/words.ts";

const nameOf = (id: string): string => [...docsOf("supply"), ...docsOf("food")].find((one) => one.id === id)?.name ?? id;
const amount = (value: number | null | undefined, unit: StockLine["unit"]): string => {
  if (value === null || value === undefined) return "–";
  if (unit === "n") return decimal(Math.round(value), 0);
  return value >= 1000 ? `${decimal(value / 1000, 1)} kg` : `${decimal(value, 0)} g`;
};
/** A range says its unit once, and nothing where nothing is used. */
function range(low: number, high: number, unit: StockLine["unit"]): string {
  if (high < 0.5) return t("staff.stock.nothing");
  if (unit === "n" || high < 1000) return `${decimal(Math.round(low), 0)}–${amount(high, unit)}`;
  return `${decimal(low / 1000, 1)}–${decimal(high / 1000, 1)} kg`;
}
const HANDS: ReadonlySet<string> = new Set(["physiologist", "admin", "doctor", "soigneur", "car"]);

function Entry({ line }: { line: StockLine }) {
  const [text, setText] = useState("");
  const [said, setSaid] = useState("");
  const id = `stock-${line.item_id}`;
  const enter = async (what: typeof stockCounted): Promise<void> => {
    const rule = { name: "n_amount", unit: line.unit === "g" ? "g" : "", low: 0, high: 1_000_000 };
    const { value } = checked(text, rule);
    const team = session.value?.team.id;
    if (value === null || team === undefined) return setSaid(t("staff.stock.not_a_number"));
    try {
      await what(team, { item_id: line.item_id, n_amount: value });
      setText("");
      setSaid(t("staff.stock.kept"));
    } catch {
      setSaid(t("road.notNoted"));
    }
  };
  return (
    <div class="sx-stock-entry">
      <label class="hidden" for={id}>{t("staff.stock.amount", { item: nameOf(line.item_id), unit: line.unit === "g" ? "g" : t("staff.stock.pieces") })}</label>
      <input id={id} inputMode="decimal" autocomplete="off" placeholder={line.unit === "g" ? "g" : t("staff.stock.pieces")} value={text} onInput={(event) => { setText(event.currentTarget.value); setSaid(""); }} />
      <button type="button" class="button button-quiet" aria-label={`${t("staff.stock.counted")}: ${nameOf(line.item_id)}`} onClick={() => void enter(stockCounted)}>{t("staff.stock.counted")}</button>
      <button type="button" class="button button-quiet" aria-label={`${t("staff.stock.delivered")}: ${nameOf(line.item_id)}`} onClick={() => void enter(delivered)}>{t("staff.stock.delivered")}</button>
      <span role="status">{said}</span>
    </div>
  );
}

function Row({ line, mayEnter }: { line: StockLine; mayEnter: boolean }) {
  const isShort = line.short_from_stage !== null && line.short_from_stage !== undefined;
  const days = line.n_days_covered;
  return (
    <tr>
      <th scope="row">{nameOf(line.item_id)}{isShort && <p class="sx-short">{t("staff.stock.short", { n: line.short_from_stage ?? 0 })}</p>}</th>
      <td class="sx-num" data-label={t("staff.stock.on_hand")}>{line.n_on_hand === null || line.n_on_hand === undefined ? t("staff.stock.never") : amount(line.n_on_hand, line.unit)}</td>
      <td class="sx-num" data-label={t("staff.stock.need")}>{range(line.n_need_q10, line.n_need_q90, line.unit)}</td>
      <td class="sx-num" data-label={t("staff.stock.days")}>{days === null || days === undefined ? "–" : decimal(days, 0)}</td>
      <td class="sx-num" data-label={t("staff.stock.buy")}>{line.n_packs_to_buy === null || line.n_packs_to_buy === undefined ? "–" : line.n_packs_to_buy === 0 ? t("staff.stock.enough") : <b>{t("staff.stock.packs", { n: line.n_packs_to_buy, pack: amount(line.n_per_pack, line.unit) })}</b>}</td>
      {mayEnter && <td>{<Entry line={line} />}</td>}
    </tr>
  );
}

/** What is on the shelf, what the rest of the race will use of it, and what to buy. */
export function StockTable() {
  const stock = doc<Stock>("stock:team");
  const mayEnter = HANDS.has(session.value?.member.role ?? "");
  if (stock === null || stock.lines.length === 0) return <Empty text={t("staff.stock.none")} />;
  const lines = [...stock.lines].sort((a, b) => (a.n_days_covered ?? 99) - (b.n_days_covered ?? 99) || byName(nameOf(a.item_id), nameOf(b.item_id)));
  return (
    <section class="sx-bare">
      <p>{t("staff.stock.about", { n: stock.n_race_days, planned: stock.n_planned_days })}</p>
      <div class="sx-scroll"><table class="sx-table sx-stack sx-stock">
        <caption>{t("staff.stock.caption")}</caption>
        <thead><tr>
          <th scope="col">{t("staff.drinks.name")}</th><th scope="col" class="sx-num">{t("staff.stock.on_hand")}</th><th scope="col" class="sx-num">{t("staff.stock.need")}</th>
          <th scope="col" class="sx-num">{t("staff.stock.days")}</th><th scope="col" class="sx-num">{t("staff.stock.buy")}</th>{mayEnter && <th scope="col">{t("staff.stock.enter")}</th>}
        </tr></thead>
        <tbody>{lines.map((line) => <Row key={line.item_id} line={line} mayEnter={mayEnter} />)}</tbody>
      </table></div>
      <p class="sx-hint">{t("staff.stock.how")}</p>
    </section>
  );
}
