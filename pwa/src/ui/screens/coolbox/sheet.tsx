import { useState } from "preact/hooks";

import { type Dose, type Fill, fillsOf, isToWeigh, numberOf } from "@/core/coolbox.ts";
import { decimal, parseNumber } from "@/core/display.ts";
import type { Musette, PrepSheet, SheetBottle, SheetMix, SheetPlace } from "@/protocol/records.ts";
import { now } from "@/store/state.ts";
import { Button } from "@/ui/parts/button.tsx";
import { Field } from "@/ui/parts/field.tsx";
import {
  bucketL, drinkOf, fetchPdf, foodOf, kitNow, mayPrintCards, notePrinted, riderName, tick, ticked, useBucket,
} from "@/ui/screens/coolbox/state.ts";
import { usePaper } from "@/ui/screens/coolbox/paper.ts";
import { t } from "@/ui/words.ts";

const ALL = "all";
const MIXING = "mixing";
const SHOWN_ERROR_FRAC = 0.005;
const litres = (value: number): string => `${decimal(value, value < 1 ? 2 : 1)} L`;
const grams = (value: number): string => `${decimal(value, value < 100 ? 1 : 0)} g`;
const signed = (frac: number): string => `${frac < 0 ? "−" : "+"}${decimal(Math.abs(frac) * 100, 1)} %`;

function DoseCell({ one, name }: { one: Dose; name: string }) {
  const scoops = !isToWeigh(one) && one.nScoops !== null ? t("coolbox.scoops", { n: one.nScoops }) : null;
  const isExact = Math.abs(one.errorFrac) < SHOWN_ERROR_FRAC;
  return (
    <td data-label={name}>
      <b>{grams(one.massG)}</b> {scoops === null ? (one.nScoops === null ? "" : t("coolbox.weigh")) : `= ${scoops}`}
      {scoops !== null && !isExact && <span class="cb-error"> ({signed(one.errorFrac)})</span>}
    </td>
  );
}

function FillRow({ mix, fill }: { mix: SheetMix; fill: Fill }) {
  const error = mix.sodium_mg_per_l > 0 ? fill.scoopedMgPerL / mix.sodium_mg_per_l - 1 : 0;
  return (
    <tr>
      <th scope="row">{t("coolbox.fill", { n: fill.n, litres: litres(fill.volumeL) })}</th>
      {fill.doses.map((one, i) => <DoseCell key={i} one={one} name={mix.portions?.[i]?.name ?? ""} />)}
      <td data-label={t("coolbox.water")}>{litres(fill.waterL)}</td>
      <td data-label={t("coolbox.if_scooped")}>{decimal(fill.scoopedMgPerL, 0)} mg/L <span class="cb-error">({signed(error)})</span></td>
    </tr>
  );
}

function Mix({ mix, bucket }: { mix: SheetMix; bucket: number }) {
  const portions = mix.portions ?? [];
  return (
    <section class="cb-mix">
      <h3>{t("coolbox.mix", { name: mix.name, short: mix.short_name, bottles: mix.n_bottles, litres: litres(mix.volume_l) })}</h3>
      <p>{t("coolbox.strength", { sodium: decimal(mix.sodium_mg_per_l, 0), carbohydrate: decimal(mix.carbohydrate_g_per_l, 0) })}</p>
      {portions.length > 0 && (
        <table class="cb-table">
          <thead>
            <tr><th scope="col">{t("coolbox.bucket")}</th>{portions.map((one) => <th scope="col" key={one.supply_id}>{one.name}</th>)}<th scope="col">{t("coolbox.water")}</th><th scope="col">{t("coolbox.if_scooped")}</th></tr>
          </thead>
          <tbody>{fillsOf(mix, bucket).map((fill) => <FillRow key={fill.volumeL} mix={mix} fill={fill} />)}</tbody>
        </table>
      )}
    </section>
  );
}

function BottleRow({ bottle }: { bottle: SheetBottle }) {
  const drink = drinkOf(bottle.drink_id);
  const name = drink === null ? "?" : `${drink.short_name} ${decimal((drink.bottle_l ?? 0.5) * 1000, 0)} mL`;
  const whose = bottle.rider_id ? riderName(bottle.rider_id) : t("coolbox.spare");
  return (
    <li>
      <label class="cb-bottle">
        <b class="cb-no">{numberOf(bottle.number)}</b>
        <input type="checkbox" checked={ticked.value.has(bottle.code)} onChange={(event) => tick(bottle.code, event.currentTarget.checked)} />
        <span>{whose}<b class="cb-drink">{name}</b></span>
      </label>
    </li>
  );
}

function MusetteRow({ one, place }: { one: Musette; place: SheetPlace }) {
  const code = `m-${place.place_id}-${one.rider_id}`;
  const foods = Object.entries(one.foods).map(([id, n]) => `${n} × ${foodOf(id)?.name ?? id}`).join(", ");
  return (
    <li>
      <label class="cb-bottle cb-musette">
        <input type="checkbox" checked={ticked.value.has(code)} onChange={(event) => tick(code, event.currentTarget.checked)} />
        <span>{riderName(one.rider_id)}<b class="cb-drink">{foods}</b></span>
      </label>
    </li>
  );
}

const leftAt = (place: SheetPlace): number => place.bottles.filter((bottle) => !ticked.value.has(bottle.code)).length;
const nameOf = (place: SheetPlace): string => (place.kind === "finish" ? t("coolbox.finish") : place.name);

/** What stands on the screen: the mixing, one place, or all of it. Paper always gets all. */
function Parts({ sheet, part, onPart }: { sheet: PrepSheet; part: string; onPart: (part: string) => void }) {
  return (
    <div class="cb-screen cb-parts" role="group" aria-label={t("coolbox.where")}>
      <Button kind="quiet" isPressed={part === ALL} onPress={() => onPart(ALL)}>{t("coolbox.all")}</Button>
      <Button kind="quiet" isPressed={part === MIXING} onPress={() => onPart(MIXING)}>{t("coolbox.mixing")}</Button>
      {sheet.places.map((place) => (
        <Button key={place.place_id} kind="quiet" isPressed={part === place.place_id} onPress={() => onPart(place.place_id)}>
          <span>{nameOf(place)} {leftAt(place) === 0 ? <b aria-label={t("coolbox.left", { n: 0 })}>✓</b> : <small>· {decimal(leftAt(place), 0)}</small>}</span>
        </Button>
      ))}
    </div>
  );
}

function Place({ place, isShown }: { place: SheetPlace; isShown: boolean }) {
  return (
    <section class={isShown ? "cb-place" : "cb-place cb-away"}>
      <h2>{t("coolbox.place", { where: nameOf(place), km: decimal(place.km, 0), n: place.bottles.length })}</h2>
      <p>{t("coolbox.ice", { kg: decimal(Math.max(1, place.ice_kg ?? 0), 0) })}<span class="cb-screen" role="status"> · {t("coolbox.left", { n: leftAt(place) })}</span></p>
      {place.kind === "finish" && <p>{t("coolbox.finish_note")}</p>}
      <ul class="cb-bottles">{place.bottles.map((bottle) => <BottleRow key={bottle.code} bottle={bottle} />)}</ul>
      {(place.musettes ?? []).length > 0 && (
        <>
          <h3>{t("coolbox.musettes")}</h3>
          <ul class="cb-bottles">{(place.musettes ?? []).map((one) => <MusetteRow key={one.rider_id} one={one} place={place} />)}</ul>
        </>
      )}
      <p class="cb-print cb-pencil">{t("coolbox.packed_by")} <u /> {t("coolbox.loaded")} <i /></p>
    </section>
  );
}

const LEAST_L = 0.5;
const MOST_L = 100;

/** A bucket that is not on the list: whatever stands in the van today. */
function OtherBucket({ onDone }: { onDone: () => void }) {
  const [text, setText] = useState("");
  const value = parseNumber(text);
  const isFit = value !== null && value >= LEAST_L && value <= MOST_L;
  const use = (): void => {
    if (!isFit) return;
    useBucket(value);
    onDone();
  };
  return (
    <div class="cb-other group">
      <Field label={t("coolbox.bucket")} unit="L" text={text} onText={setText} fault={text === "" || isFit ? null : t("field.between", { low: LEAST_L, high: MOST_L })} />
      <Button onPress={use} isDisabled={!isFit}>{t("coolbox.use")}</Button>
    </div>
  );
}

/** The stage's sheet: the same page on the screen, where bottles are ticked off, and on paper. */
export function Sheet({ sheet }: { sheet: PrepSheet }) {
  const [fault, setFault] = useState("");
  const [isOther, setOther] = useState(false);
  const [part, setPart] = useState(globalThis.matchMedia("(min-width: 760px)").matches ? ALL : MIXING);
  const [paper, setPaper] = useState<"a4" | "letter">("a4");
  usePaper(paper === "a4" ? "A4" : "letter", "12mm");
  const buckets = kitNow().buckets_l;
  const bucket = bucketL.value ?? buckets[0] ?? 10;
  const choices = [...new Set([...buckets, bucket])].sort((a, b) => a - b);
  const stamp = new Date(now.value);
  const print = (): void => {
    void notePrinted("prep", sheet);
    globalThis.print();
  };
  const pdf = async (what: "prep" | "cards"): Promise<void> => {
    const said = await fetchPdf(`/api/stages/${sheet.stage_id}/sheets/${what}?paper=${paper}${what === "prep" ? `&bucket_l=${bucket}` : ""}`, `${what}-${sheet.stage_id}`);
    setFault(said);
    if (said === "") await notePrinted(what, sheet);
  };
  return (
    <>
      <div class="cb-screen cb-acts">
        <div class="acts">
          <Button kind="act" onPress={print}>{t("coolbox.print")}</Button>
          <Button onPress={() => void pdf("prep")}>{t("coolbox.pdf")}</Button>
          {mayPrintCards() && <Button onPress={() => void pdf("cards")}>{t("coolbox.cards")}</Button>}
        </div>
        <div class="cb-sizes">
          <fieldset class="group">
            <legend>{t("coolbox.bucket")}</legend>
            <div class="acts">{choices.map((size) => <Button key={size} isPressed={size === bucket} onPress={() => useBucket(size)}>{`${decimal(size, Number.isInteger(size) ? 0 : 1)} L`}</Button>)}<Button isPressed={isOther} onPress={() => setOther(!isOther)}>{t("coolbox.other")}</Button></div>
            {isOther && <OtherBucket onDone={() => setOther(false)} />}
          </fieldset>
          <fieldset class="group">
            <legend>{t("coolbox.paper")}</legend>
            <div class="acts">{(["a4", "letter"] as const).map((size) => <Button key={size} isPressed={size === paper} onPress={() => setPaper(size)}>{t(`coolbox.paper.${size}`)}</Button>)}</div>
          </fieldset>
        </div>
        {fault !== "" && <p class="fault" role="alert">{fault}</p>}
      </div>
      <p class="cb-print">{t("coolbox.printed", { time: stamp.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" }), day: stamp.toISOString().slice(0, 10) })}</p>
      <Parts sheet={sheet} part={part} onPart={setPart} />
      <section class={part === ALL || part === MIXING ? "cb-mixes" : "cb-mixes cb-away"}>
        <h2>{t("coolbox.mix_title", { bucket: litres(bucket) })}</h2>
        {sheet.mixes.map((mix) => <Mix key={mix.drink_id} mix={mix} bucket={bucket} />)}
      </section>
      {sheet.places.map((place) => <Place key={place.place_id} place={place} isShown={part === ALL || part === place.place_id} />)}
      <footer class="cb-print cb-foot">
        <h2>{t("coolbox.pencil")}</h2>
        <u /><u /><u />
        <p>{t("coolbox.caution")}</p>
      </footer>
    </>
  );
}
