import { useState } from "preact/hooks";

import { byName, decimal } from "@/core/display.ts";
import { checked } from "@/core/sweat_day.ts";
import type { Allergen, Drink, Portion, Sugar, Supply } from "@/protocol/records.ts";
import { docsOf } from "@/store/state.ts";
import { Allergens, Choice, Editor, isSound, keepRecord, newId, numberIn, Numbers, rule, type Rules, shown, TextField, type Typed, useReading } from "@/ui/screens/staff/pantry.tsx";
import { NumberField } from "@/ui/screens/staff/parts.tsx";
import { t } from "@/ui/words.ts";

const BOTTLE = { bottle_ml: rule("bottle_ml", "mL", 50, 2000) };
const REFERENCE = { conductivity: rule("conductivity_ms_per_cm", "mS/cm", 0.1, 60, true) };
const BY_HAND: Rules = {
  sodium: rule("sodium_mg_per_l", "mg/L", 0, 4000), carbohydrate: rule("carbohydrate_g_per_l", "g/L", 0, 160, true),
  osmolality: rule("osmolality_mosm_per_kg", "mOsm/kg", 0, 1500, true),
};
const GRAMS = rule("g_per_l", "g/L", 0.001, 400);
const KINDS = ["standard", "high_sodium", "water", "other"] as const;
export const SUGARS = ["unknown", "none", "single", "mixed"] as const;

interface Made {
  sodium_mg_per_l: number;
  carbohydrate_g_per_l: number;
  osmolality_mosm_per_l: number;
  sugar: Sugar;
  fructose_frac: number | null;
  allergens: Allergen[];
}
interface Part { supplyId: string; text: string }

const portionOf = (part: Part): Portion | null => {
  const grams = checked(part.text, GRAMS).value;
  return grams === null || part.supplyId === "" ? null : { supply_id: part.supplyId, g_per_l: grams };
};

function Recipe({ parts, supplies, isTried, onParts }: { parts: readonly Part[]; supplies: readonly Supply[]; isTried: boolean; onParts: (parts: Part[]) => void }) {
  const set = (n: number, part: Part): void => onParts(parts.map((one, i) => (i === n ? part : one)));
  return (
    <>
      <ul class="sx-label-lines">
        {parts.map((part, n) => (
          <li key={n} class="sx-label-line sx-recipe-line">
            <Choice id={`s-${n}`} label={t("staff.drinks.supply")} value={part.supplyId} options={supplies.map((one) => one.id)} say={(id) => supplies.find((one) => one.id === id)?.name ?? id} onValue={(supplyId) => set(n, { ...part, supplyId })} />
            <NumberField id={`g-${n}`} label={t("staff.field.g_per_l")} rule={GRAMS} text={part.text} isShown={isTried} onText={(text) => set(n, { ...part, text })} />
            <button type="button" class="button button-quiet" aria-label={t("staff.drinks.remove_line", { n: n + 1 })} onClick={() => onParts(parts.filter((_, i) => i !== n))}>{t("staff.drinks.remove")}</button>
          </li>
        ))}
      </ul>
      <button type="button" class="button button-quiet" onClick={() => onParts([...parts, { supplyId: supplies[0]?.id ?? "", text: "" }])}>{t("staff.drinks.add_supply")}</button>
    </>
  );
}

function MadeOf({ made }: { made: Made }) {
  return (
    <div role="status"><dl class="sx-figures">
      <div><dt>{t("staff.drinks.sodium")}</dt><dd>{decimal(made.sodium_mg_per_l, 0)}</dd></div>
      <div><dt>{t("staff.drinks.carbohydrate")}</dt><dd>{decimal(made.carbohydrate_g_per_l, 1)}</dd></div>
      <div><dt>{t("staff.drinks.osmolality_counted")}</dt><dd>{decimal(made.osmolality_mosm_per_l, 0)}</dd></div>
      <div><dt>{t("staff.drinks.sugar")}</dt><dd class="sx-small-figure">{t(`staff.sugar.${made.sugar}`)}</dd></div>
    </dl></div>
  );
}

const round = (value: number, digits: number): number => Math.round(value * 10 ** digits) / 10 ** digits;

/** A drink: mixed from the shelf by a recipe, whose figures it then takes; or typed by hand, as a bought one. */
export function DrinkEditor({ drink }: { drink: Drink | null }) {
  const supplies = docsOf("supply").sort((a, b) => byName(a.name, b.name));
  const [name, setName] = useState(drink?.name ?? "");
  const [short, setShort] = useState(drink?.short_name ?? "");
  const [flavour, setFlavour] = useState(drink?.flavour ?? "");
  const [kind, setKind] = useState<NonNullable<Drink["kind"]>>(drink?.kind ?? "standard");
  const [sugar, setSugar] = useState<Sugar>(drink?.sugar ?? "unknown");
  const [isFinish, setFinish] = useState(drink?.is_finish_bottle ?? false);
  const [allergens, setAllergens] = useState(drink?.allergens ?? []);
  const [parts, setParts] = useState<Part[]>((drink?.recipe ?? []).map((one) => ({ supplyId: one.supply_id, text: shown(one.g_per_l) })));
  const [typed, setTyped] = useState<Typed>({
    bottle_ml: shown((drink?.bottle_l ?? 0.5) * 1000), sodium: shown(drink?.sodium_mg_per_l), carbohydrate: shown(drink?.carbohydrate_g_per_l),
    osmolality: shown(drink?.osmolality_mosm_per_kg), conductivity: shown(drink?.conductivity_ms_per_cm),
  });
  const [isTried, setTried] = useState(false);
  const [said, setSaid] = useState("");
  const recipe = parts.map(portionOf).filter((one) => one !== null);
  const isMixed = parts.length > 0;
  const { told, fault } = useReading<Made>("/api/recipes/read", { recipe });
  const rules: Rules = isMixed ? { ...BOTTLE, ...REFERENCE } : { ...BOTTLE, ...BY_HAND };
  const save = async (): Promise<void> => {
    setTried(true);
    if (name.trim() === "" || short.trim() === "" || short.length > 12 || !isSound(typed, rules) || recipe.length < parts.length) return setSaid(t("staff.drinks.not_kept"));
    if (isMixed && told === null) return setSaid(fault || t("staff.problem.unreachable"));
    const of = (field: string): number | null => numberIn(typed, rules, field);
    const figures = isMixed && told !== null
      ? { sodium_mg_per_l: round(told.sodium_mg_per_l, 1), carbohydrate_g_per_l: round(told.carbohydrate_g_per_l, 2), osmolality_mosm_per_kg: round(told.osmolality_mosm_per_l, 0), sugar: told.sugar, fructose_frac: told.fructose_frac }
      : { sodium_mg_per_l: of("sodium") ?? 0, carbohydrate_g_per_l: of("carbohydrate") ?? 0, osmolality_mosm_per_kg: of("osmolality"), sugar, fructose_frac: drink?.fructose_frac ?? null };
    setSaid(await keepRecord("drinks", {
      id: drink?.id ?? newId(name), version: drink?.version ?? 0, name: name.trim(), short_name: short.trim(), kind, flavour, bottle_l: (of("bottle_ml") ?? 500) / 1000,
      recipe, allergens, is_finish_bottle: isFinish, conductivity_ms_per_cm: isMixed ? of("conductivity") : null, ...figures,
    } as Drink));
  };
  return (
    <Editor title={drink === null ? t("staff.drinks.new.drink") : drink.name} isNew={drink === null} said={said} onSave={() => void save()}>
      <div class="sx-shared">
        <TextField id="name" label={t("staff.field.name")} text={name} onText={setName} fault={isTried && name.trim() === "" ? t("staff.drinks.name_needed") : undefined} />
        <TextField id="short" label={t("staff.drinks.short")} text={short} onText={setShort} fault={isTried && (short.trim() === "" || short.length > 12) ? t("staff.drinks.short_needed") : undefined} />
        <Choice id="kind" label={t("staff.drinks.kind")} value={kind} options={KINDS} say={(one) => t(`staff.drink_kind.${one}`)} onValue={setKind} />
        <TextField id="flavour" label={t("staff.drinks.flavour")} text={flavour} onText={setFlavour} />
      </div>
      <section class="sx-panel">
        <h2>{t("staff.drinks.recipe")}</h2>
        <p class="sx-hint">{t("staff.drinks.recipe_about")}</p>
        <Recipe parts={parts} supplies={supplies} isTried={isTried} onParts={setParts} />
        {isMixed && told !== null && <MadeOf made={told} />}
        {isMixed && fault !== "" && <p class="sx-issue" role="alert">{fault}</p>}
      </section>
      <div class="sx-shared">
        <Numbers rules={rules} typed={typed} isTried={isTried} onTyped={setTyped} hints={{ conductivity: t("staff.drinks.reference_about") }} />
        {!isMixed && <Choice id="sugar" label={t("staff.drinks.sugar")} value={sugar} options={SUGARS} say={(one) => t(`staff.sugar.${one}`)} onValue={setSugar} />}
      </div>
      <label class="tick-line"><input type="checkbox" checked={isFinish} onChange={(event) => setFinish(event.currentTarget.checked)} /> {t("staff.drinks.finish")}</label>
      <Allergens value={allergens} onValue={setAllergens} legend={t("staff.drinks.allergens_beside")} />
    </Editor>
  );
}
