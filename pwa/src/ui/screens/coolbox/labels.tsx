import { useState } from "preact/hooks";

import stocks from "../../../../../server/brinebook/sheets/label_stocks.json";
import { bottlesOf, codePath, numberOf, type PlacedBottle } from "@/core/coolbox.ts";
import { decimal } from "@/core/display.ts";
import type { Kit, LabelStock, PrepSheet } from "@/protocol/records.ts";
import { session } from "@/store/state.ts";
import { put } from "@/sync/api.ts";
import { exchange } from "@/sync/exchange.ts";
import { Button } from "@/ui/parts/button.tsx";
import { Steps } from "@/ui/parts/steps.tsx";
import { drinkOf, fetchPdf, kitNow, notePrinted, riderOf, STOCKS } from "@/ui/screens/coolbox/state.ts";
import { usePaper } from "@/ui/screens/coolbox/paper.ts";
import { t } from "@/ui/words.ts";

const INSET_MM = 3;
const MOST_CODE_MM = 26;
const MOST_CODE_FRAC = 0.36;
const WIDE_MM = 80;
const NARROW_MM = 65;
const QUIET_MODULES = 4;
interface Stock { page_mm: number[]; label_mm: number[]; columns: number; rows: number; first_mm: number[]; pitch_mm: number[] }
interface Nudge { rightMm: number; downMm: number }
const mm = (value: number): string => `${value.toFixed(2)}mm`;
const at = (values: readonly number[], i: number): number => values[i] ?? 0;

function Label({ one, n, stock, sheet, nudge }: { one: PlacedBottle; n: number; stock: Stock; sheet: PrepSheet; nudge: Nudge }) {
  const { bottle, place } = one;
  const [width, height] = [at(stock.label_mm, 0), at(stock.label_mm, 1)];
  const code = Math.min(height - 2 * INSET_MM, Math.max(MOST_CODE_MM, MOST_CODE_FRAC * width));
  const row = Math.floor(n / stock.columns);
  const left = at(stock.first_mm, 0) + (n % stock.columns) * at(stock.pitch_mm, 0) + nudge.rightMm;
  const top = at(stock.first_mm, 1) + row * at(stock.pitch_mm, 1) + nudge.downMm;
  const drink = drinkOf(bottle.drink_id);
  const rider = riderOf(bottle.rider_id);
  const side = sheet.qr_side_n + 2 * QUIET_MODULES;
  return (
    <div class={height < 30 ? "cb-label cb-label-low" : width > WIDE_MM ? "cb-label cb-label-wide" : width < NARROW_MM ? "cb-label cb-label-narrow" : "cb-label"} style={{ left: mm(left), top: mm(top), width: mm(width), height: mm(height) }}>
      <svg viewBox={`0 0 ${side} ${side}`} shape-rendering="crispEdges" style={{ left: mm(INSET_MM), top: mm((height - code) / 2), width: mm(code), height: mm(code) }} role="img" aria-label={bottle.code}>
        <path d={codePath(bottle.qr_hex, sheet.qr_side_n)} />
      </svg>
      <div class="cb-label-said" style={{ left: mm(code + 4) }}>
        <b class="cb-label-no">{numberOf(bottle.number)}</b>
        <span><b>{drink === null ? "" : `${drink.short_name} ${decimal((drink.bottle_l ?? 0.5) * 1000, 0)} mL`}</b> {rider === null ? t("coolbox.spare") : t("coolbox.number", { n: decimal(rider.race_number, 0) })}</span>
        <span>{place.kind === "finish" ? t("coolbox.at_finish") : `${place.name} · km ${decimal(place.km, 0)}`}</span>
        <span>{t("coolbox.label_foot", { n: decimal(sheet.stage_number, 0), version: decimal(sheet.sheet_version, 0) })}</span>
      </div>
    </div>
  );
}

function Pages({ sheet, stock, nudge, isOne }: { sheet: PrepSheet; stock: Stock; nudge: Nudge; isOne: boolean }) {
  const every = bottlesOf(sheet);
  const perPage = stock.columns * stock.rows;
  const nPages = isOne ? 1 : Math.ceil(every.length / perPage);
  const [width, height] = [mm(at(stock.page_mm, 0)), mm(at(stock.page_mm, 1))];
  return (
    <>
      {Array.from({ length: nPages }, (_, page) => (
        <div class="cb-label-page" key={page} style={{ width, height }}>
          {every.slice(page * perPage, (page + 1) * perPage).map((one, n) => <Label key={one.bottle.code} one={one} n={n} stock={stock} sheet={sheet} nudge={nudge} />)}
        </div>
      ))}
    </>
  );
}

const EDITORS: ReadonlySet<string> = new Set(["physiologist", "admin", "soigneur", "car"]);

/** Labels: on the screen the first page in small, on paper all of them at their real size. */
export function Labels({ sheet }: { sheet: PrepSheet }) {
  const kit = kitNow();
  const [name, setName] = useState<LabelStock>(kit.label_stock);
  const [nudge, setNudge] = useState<Nudge>({ rightMm: kit.nudge_right_mm, downMm: kit.nudge_down_mm });
  const [said, setSaid] = useState("");
  const stock: Stock = stocks[name];
  usePaper(`${at(stock.page_mm, 0)}mm ${at(stock.page_mm, 1)}mm`, "0");
  const isOther = name !== kit.label_stock || nudge.rightMm !== kit.nudge_right_mm || nudge.downMm !== kit.nudge_down_mm;
  const keep = async (): Promise<void> => {
    const wanted: Kit = { ...kit, label_stock: name, nudge_right_mm: nudge.rightMm, nudge_down_mm: nudge.downMm };
    setSaid(await put("/api/kits/kit", wanted).then(() => t("coolbox.kept"), () => t("coolbox.problem.unreachable")));
    void exchange();
  };
  const print = (): void => {
    void notePrinted("labels", sheet);
    globalThis.print();
  };
  const grid = `/api/sheets/grid?stock=${name}&right_mm=${nudge.rightMm}&down_mm=${nudge.downMm}`;
  const move = (side: keyof Nudge) => (value: number): void => setNudge({ ...nudge, [side]: Math.round((value - 2) * 10) / 10 });
  return (
    <>
      <div class="cb-screen cb-acts">
        <label class="picker">
          <span>{t("coolbox.stock")}</span>
          <select value={name} onChange={(event) => setName(event.currentTarget.value as LabelStock)}>
            {STOCKS.map((one) => <option key={one} value={one}>{t(`coolbox.stock.${one}`)}</option>)}
          </select>
        </label>
        {(["rightMm", "downMm"] as const).map((side) => (
          <Steps key={side} label={t(`coolbox.nudge.${side}`)} value={nudge[side] + 2} step={0.1} most={4} onValue={move(side)} show={(value) => decimal(value - 2, 1)} />
        ))}
        <p class="field-hint">{t("coolbox.nudge.hint")}</p>
        <div class="acts">
          <Button kind="act" onPress={print}>{t("coolbox.print_labels", { n: bottlesOf(sheet).length })}</Button>
          <Button onPress={() => void fetchPdf(`/api/stages/${sheet.stage_id}/sheets/labels?stock=${name}`, `labels-${sheet.stage_id}`).then(setSaid)}>{t("coolbox.pdf")}</Button>
          <Button onPress={() => void fetchPdf(grid, "test-grid").then(setSaid)}>{t("coolbox.grid_title")}</Button>
          {isOther && EDITORS.has(session.value?.member.role ?? "") && <Button onPress={() => void keep()}>{t("coolbox.keep_kit")}</Button>}
        </div>
        <p role="status">{said}</p>
        <h2>{t("coolbox.first_page")}</h2>
        <div class="cb-preview" aria-hidden="true"><Pages sheet={sheet} stock={stock} nudge={nudge} isOne /></div>
      </div>
      <div class="cb-print cb-all-labels"><Pages sheet={sheet} stock={stock} nudge={nudge} isOne={false} /></div>
    </>
  );
}
