import { byName, decimal } from "@/core/display.ts";
import type { Allergen, Drink, Food, Supply } from "@/protocol/records.ts";
import { docsOf } from "@/store/state.ts";
import { DrinkEditor } from "@/ui/screens/staff/drink_editor.tsx";
import { FoodEditor } from "@/ui/screens/staff/food_editor.tsx";
import { GoalsForm } from "@/ui/screens/staff/goals.tsx";
import { KitForm } from "@/ui/screens/staff/kit.tsx";
import { canEdit } from "@/ui/screens/staff/look.ts";
import { Head, NothingYet } from "@/ui/screens/staff/parts.tsx";
import { StockTable } from "@/ui/screens/staff/stock.tsx";
import { SupplyEditor } from "@/ui/screens/staff/supply_editor.tsx";
import { Tastes } from "@/ui/screens/staff/tastes.tsx";
import { href, route } from "@/ui/route.ts";
import { t } from "@/ui/words.ts";

export const allergenWords = (list: readonly Allergen[] | undefined): string => (list ?? []).map((one) => t(`staff.allergen.${one}`)).join(", ");
const PARTS = ["catalogue", "stock", "tastes", "kit", "goals"] as const;

function Tabs({ now }: { now: string }) {
  return (
    <nav class="sx-tabs" aria-label={t("staff.drinks.parts")}>
      {PARTS.map((part) => <a key={part} class="button button-quiet" href={href("drinks", part)} aria-current={part === now ? "page" : undefined}>{t(`staff.drinks.${part}`)}</a>)}
    </nav>
  );
}

function More({ kind }: { kind: "drink" | "supply" | "food" }) {
  if (!canEdit.value) return null;
  return <a class="button button-quiet sx-new" href={href("drinks", kind, "new")}>{t(`staff.drinks.new.${kind}`)}</a>;
}

function DrinkRow({ drink }: { drink: Drink }) {
  const supplies = docsOf("supply");
  const recipe = (drink.recipe ?? []).map((one) => `${decimal(one.g_per_l, one.g_per_l < 10 ? 2 : 1)} g ${supplies.find((supply) => supply.id === one.supply_id)?.name ?? one.supply_id}`);
  const allergens = [...new Set([...(drink.allergens ?? []), ...(drink.recipe ?? []).flatMap((one) => supplies.find((supply) => supply.id === one.supply_id)?.allergens ?? [])])];
  return (
    <tr>
      <th scope="row"><b class="sx-no" aria-hidden="true">{drink.short_name}</b> <a class="sx-row-link" href={href("drinks", "drink", drink.id)}>{drink.name}</a></th>
      <td class="sx-num" data-label={t("staff.drinks.sodium")}>{decimal(drink.sodium_mg_per_l, 0)}</td>
      <td class="sx-num" data-label={t("staff.drinks.carbohydrate")}>{decimal(drink.carbohydrate_g_per_l ?? 0, 0)}</td>
      <td class="sx-num" data-label={t("staff.drinks.osmolality")}>{drink.osmolality_mosm_per_kg ? decimal(drink.osmolality_mosm_per_kg, 0) : "–"}</td>
      <td data-label={t("staff.drinks.sugar")}>{t(`staff.sugar.${drink.sugar ?? "unknown"}`)}</td>
      <td data-label={t("staff.drinks.recipe")}>{recipe.length === 0 ? t("staff.drinks.no_recipe") : recipe.join(" · ")}</td>
      <td data-label={t("staff.drinks.allergens")}>{allergenWords(allergens) || "–"}</td>
    </tr>
  );
}

function Drinks() {
  const drinks = docsOf("drink").sort((a, b) => byName(a.name, b.name));
  return (
    <section class="sx-bare">
      <div class="sx-scroll"><table class="sx-table sx-stack">
        <caption>{t("staff.drinks.drinks")}</caption>
        <thead><tr>
          <th scope="col">{t("staff.drinks.name")}</th><th scope="col" class="sx-num">{t("staff.drinks.sodium")}</th><th scope="col" class="sx-num">{t("staff.drinks.carbohydrate")}</th>
          <th scope="col" class="sx-num">{t("staff.drinks.osmolality")}</th><th scope="col">{t("staff.drinks.sugar")}</th><th scope="col">{t("staff.drinks.recipe")}</th><th scope="col">{t("staff.drinks.allergens")}</th>
        </tr></thead>
        <tbody>{drinks.map((drink) => <DrinkRow key={drink.id} drink={drink} />)}</tbody>
      </table></div>
      <More kind="drink" />
    </section>
  );
}

function SupplyRow({ supply }: { supply: Supply }) {
  const grams = (value: number | null | undefined): string => (value ? `${decimal(value, 0)} g` : "–");
  const isSalt = supply.kind === "table_salt" || supply.kind === "citrate";
  const sodium = supply.kind === "table_salt" ? 393.4 : supply.kind === "citrate" ? 234.5 : (supply.sodium_mg_per_g ?? 0);
  return (
    <tr>
      <th scope="row"><a class="sx-row-link" href={href("drinks", "supply", supply.id)}>{supply.name}</a></th>
      <td class="sx-num" data-label={t("staff.drinks.sodium_per_g")}>{decimal(sodium, 1)}</td>
      <td class="sx-num" data-label={t("staff.drinks.carbohydrate_per_g")}>{isSalt ? "–" : decimal(supply.carbohydrate_g_per_g ?? 0, 2)}</td>
      <td class="sx-num" data-label={t("staff.drinks.scoop")}>{grams(supply.scoop_g)}</td>
      <td class="sx-num" data-label={t("staff.drinks.pack")}>{grams(supply.pack_g)}</td>
      <td data-label={t("staff.drinks.allergens")}>{allergenWords(supply.allergens) || "–"}</td>
    </tr>
  );
}

function Supplies() {
  return (
    <section class="sx-bare">
      <div class="sx-scroll"><table class="sx-table sx-stack">
        <caption>{t("staff.drinks.supplies")}</caption>
        <thead><tr>
          <th scope="col">{t("staff.drinks.name")}</th><th scope="col" class="sx-num">{t("staff.drinks.sodium_per_g")}</th><th scope="col" class="sx-num">{t("staff.drinks.carbohydrate_per_g")}</th>
          <th scope="col" class="sx-num">{t("staff.drinks.scoop")}</th><th scope="col" class="sx-num">{t("staff.drinks.pack")}</th><th scope="col">{t("staff.drinks.allergens")}</th>
        </tr></thead>
        <tbody>{docsOf("supply").sort((a, b) => byName(a.name, b.name)).map((supply) => <SupplyRow key={supply.id} supply={supply} />)}</tbody>
      </table></div>
      <More kind="supply" />
    </section>
  );
}

function FoodRow({ food }: { food: Food }) {
  return (
    <tr>
      <th scope="row"><a class="sx-row-link" href={href("drinks", "food", food.id)}>{food.name}</a></th>
      <td class="sx-num" data-label={t("staff.drinks.carbohydrate_each")}>{decimal(food.carbohydrate_g, 0)}</td>
      <td class="sx-num" data-label={t("staff.drinks.sodium_each")}>{decimal(food.sodium_mg, 0)}</td>
      <td data-label={t("staff.drinks.sugar")}>{t(`staff.sugar.${food.sugar ?? "unknown"}`)}</td>
      <td class="sx-num" data-label={t("staff.drinks.pack")}>{food.n_per_pack ? decimal(food.n_per_pack, 0) : "–"}</td>
      <td data-label={t("staff.drinks.allergens")}>{allergenWords(food.allergens) || "–"}</td>
    </tr>
  );
}

function Foods() {
  return (
    <section class="sx-bare">
      <div class="sx-scroll"><table class="sx-table sx-stack">
        <caption>{t("staff.drinks.foods")}</caption>
        <thead><tr>
          <th scope="col">{t("staff.drinks.name")}</th><th scope="col" class="sx-num">{t("staff.drinks.carbohydrate_each")}</th><th scope="col" class="sx-num">{t("staff.drinks.sodium_each")}</th>
          <th scope="col">{t("staff.drinks.sugar")}</th><th scope="col" class="sx-num">{t("staff.drinks.pack")}</th><th scope="col">{t("staff.drinks.allergens")}</th>
        </tr></thead>
        <tbody>{docsOf("food").sort((a, b) => byName(a.name, b.name)).map((food) => <FoodRow key={food.id} food={food} />)}</tbody>
      </table></div>
      <More kind="food" />
    </section>
  );
}

/** Drinks: the catalogue, the shelf over three weeks, and what riders like and cannot take. */
export function DrinksScreen() {
  const [part = "catalogue", id = ""] = route.value.args;
  const found = <T extends { id: string }>(all: readonly T[]): T | null => all.find((one) => one.id === id) ?? null;
  if (part === "drink") return <DrinkEditor key={id} drink={found(docsOf("drink"))} />;
  if (part === "supply") return <SupplyEditor key={id} supply={found(docsOf("supply"))} />;
  if (part === "food") return <FoodEditor key={id} food={found(docsOf("food"))} />;
  return (
    <main class="sx sx-drinks">
      <Head title={t("staff.drinks.title")} said={t(`staff.drinks.about.${part}` as "staff.drinks.about.stock")}><Tabs now={part} /></Head>
      {part === "stock" ? <StockTable /> : part === "tastes" ? <Tastes /> : part === "kit" ? <KitForm /> : part === "goals" ? <GoalsForm /> : docsOf("drink").length + docsOf("supply").length === 0 && !canEdit.value ? <NothingYet /> : <><Drinks /><Supplies /><Foods /></>}
    </main>
  );
}
