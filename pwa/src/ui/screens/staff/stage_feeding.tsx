import { useState } from "preact/hooks";

import { byName } from "@/core/display.ts";
import { checked, type FieldRule } from "@/core/sweat_day.ts";
import type { ClosedSpan, Drink } from "@/protocol/records.ts";
import { docsOf } from "@/store/state.ts";
import { canEdit, riders } from "@/ui/screens/staff/look.ts";
import { Answer, NumberField } from "@/ui/screens/staff/parts.tsx";
import { useSaving, type PartProps } from "@/ui/screens/staff/stage_rules.tsx";
import { t } from "@/ui/words.ts";

const KM: FieldRule = { name: "km", unit: "km", low: 0, high: 400 };
const TIME_TRIALS: ReadonlySet<string> = new Set(["time_trial", "mountain_time_trial"]);

interface TypedSpan {
  from: string;
  to: string;
}

function spansOf(typed: readonly TypedSpan[]): ClosedSpan[] | null {
  const spans = typed.map(({ from, to }): [number | null, number | null] => [checked(from, KM).value, checked(to, KM).value]);
  const whole = spans.filter((span): span is ClosedSpan => span[0] !== null && span[1] !== null && span[1] > span[0]);
  return whole.length === typed.length ? whole : null;
}

/** Stretches the race book or the jury closes on this stage; typed figures stay until they are right. */
export function ClosedPart(props: PartProps) {
  const { stage } = props;
  const [said, save] = useSaving(props);
  const [typed, setTyped] = useState<TypedSpan[]>(() => (stage.feeding?.closed ?? []).map(([from, to]) => ({ from: String(from), to: String(to) })));
  const [note, setNote] = useState(stage.feeding?.note ?? "");
  const [isFed, setFed] = useState(stage.feeding?.is_time_trial_fed === true);
  const [isTried, setTried] = useState(false);
  const spans = spansOf(typed);
  const set = (n: number, more: Partial<TypedSpan>): void => setTyped(typed.map((one, i) => (i === n ? { ...one, ...more } : one)));
  const keep = async (): Promise<void> => {
    setTried(true);
    if (spans !== null) await save({ feeding: { closed: spans, is_time_trial_fed: isFed, note: note.trim() } });
  };
  return (
    <section class="sx-panel" aria-labelledby="closed-title">
      <h2 id="closed-title">{t("staff.closed.title")}</h2>
      <p class="sx-quiet">{t("staff.closed.said")}</p>
      <form onSubmit={(event) => { event.preventDefault(); void keep(); }}>
        <fieldset disabled={!canEdit.value} class="sx-bare">
          {typed.map(({ from, to }, n) => (
            <div key={n} class="sx-shared">
              <NumberField id={`closed-from-${n}`} label={t("staff.closed.from", { n: n + 1 })} rule={KM} text={from} onText={(text) => set(n, { from: text })} isShown={isTried} />
              <NumberField id={`closed-to-${n}`} label={t("staff.closed.to", { n: n + 1 })} rule={KM} text={to} onText={(text) => set(n, { to: text })} isShown={isTried} />
              <button type="button" class="button button-quiet" onClick={() => setTyped(typed.filter((_, i) => i !== n))}>{t("staff.closed.remove", { n: n + 1 })}</button>
            </div>
          ))}
          {isTried && spans === null && <p class="sx-issue" role="alert">{t("staff.closed.faults")}</p>}
          <button type="button" class="button button-quiet" disabled={typed.length >= 40} onClick={() => setTyped([...typed, { from: "", to: "" }])}>{t("staff.closed.add")}</button>
          {TIME_TRIALS.has(stage.kind) && <label class="sx-tick"><input type="checkbox" checked={isFed} onChange={(event) => setFed(event.currentTarget.checked)} /> {t("staff.closed.time_trial")}</label>}
          <div class="sx-field"><label for="closed-note">{t("staff.closed.note")}</label><input id="closed-note" maxLength={400} value={note} onInput={(event) => setNote(event.currentTarget.value)} /></div>
          {canEdit.value && <button type="submit" class="button button-quiet button-act">{t("staff.closed.keep")}</button>}
        </fieldset>
      </form>
      <Answer said={said} />
    </section>
  );
}

const MOST_SODIUM_MG_PER_L = 1500;
const MOST_CARBOHYDRATE_G_PER_L = 80;

/** Drinks that a plan leaves closed until somebody opens them for a rider on a stage. */
export const isStrong = (drink: Drink): boolean => drink.sodium_mg_per_l > MOST_SODIUM_MG_PER_L || (drink.carbohydrate_g_per_l ?? 0) > MOST_CARBOHYDRATE_G_PER_L;

/** Which strong drinks each rider may have on this stage; a plan gives them with water on the same stretch only. */
export function OpenedPart(props: PartProps) {
  const { stage } = props;
  const [said, save] = useSaving(props);
  const strong = docsOf("drink").filter(isStrong).sort((a, b) => byName(a.name, b.name));
  const opened = stage.opened_drinks_by_rider ?? {};
  const turn = (riderId: string, drinkId: string): void => {
    const { [riderId]: mine = [], ...others } = opened;
    const next = mine.includes(drinkId) ? mine.filter((id) => id !== drinkId) : [...mine, drinkId];
    void save({ opened_drinks_by_rider: next.length === 0 ? others : { ...others, [riderId]: next } });
  };
  return (
    <section class="sx-panel" aria-labelledby="opened-title">
      <h2 id="opened-title">{t("staff.opened.title")}</h2>
      {strong.length === 0 ? <p>{t("staff.opened.none")}</p> : <p class="flag flag-caution">{t("staff.opened.said")}</p>}
      {strong.length > 0 && <div class="sx-shared">{riders.value.map((rider) => (
        <fieldset key={rider.id} class="sx-chips" disabled={!canEdit.value}>
          <legend>{rider.race_number} {rider.name}</legend>
          {strong.map((drink) => {
            const isOpen = (opened[rider.id] ?? []).includes(drink.id);
            return <label key={drink.id} class={isOpen ? "sx-chip sx-chip-on" : "sx-chip"}><input type="checkbox" checked={isOpen} onChange={() => turn(rider.id, drink.id)} />{drink.name}</label>;
          })}
        </fieldset>
      ))}</div>}
      <Answer said={said} />
    </section>
  );
}
