import { useState } from "preact/hooks";

import type { Food, Sugar } from "@/protocol/records.ts";
import { SUGARS } from "@/ui/screens/staff/drink_editor.tsx";
import { Allergens, Choice, Editor, isSound, keepRecord, newId, numberIn, Numbers, rule, type Rules, shown, TextField, type Typed } from "@/ui/screens/staff/pantry.tsx";
import { t } from "@/ui/words.ts";

const RULES: Rules = {
  carbohydrate: rule("carbohydrate_g", "g", 0, 150), sodium: rule("sodium_mg", "mg", 0, 3000), water: rule("water_ml", "mL", 0, 500, true),
  mass: rule("mass_g", "g", 0, 500), pack: rule("n_per_pack", "", 1, 1000, true),
};

/** A food as it is handed out, one piece. */
export function FoodEditor({ food }: { food: Food | null }) {
  const [name, setName] = useState(food?.name ?? "");
  const [flavour, setFlavour] = useState(food?.flavour ?? "");
  const [sugar, setSugar] = useState<Sugar>(food?.sugar ?? "unknown");
  const [allergens, setAllergens] = useState(food?.allergens ?? []);
  const [typed, setTyped] = useState<Typed>({
    carbohydrate: shown(food?.carbohydrate_g), sodium: shown(food?.sodium_mg), water: food?.water_l ? shown(food.water_l * 1000) : "",
    mass: shown((food?.mass_kg ?? 0.05) * 1000), pack: shown(food?.n_per_pack),
  });
  const [isTried, setTried] = useState(false);
  const [said, setSaid] = useState("");
  const save = async (): Promise<void> => {
    setTried(true);
    if (name.trim() === "" || !isSound(typed, RULES)) return setSaid(t("staff.drinks.not_kept"));
    const of = (field: string): number => numberIn(typed, RULES, field) ?? 0;
    setSaid(await keepRecord("foods", {
      id: food?.id ?? newId(name), version: food?.version ?? 0, name: name.trim(), flavour, sugar, allergens, fructose_frac: food?.fructose_frac ?? null,
      carbohydrate_g: of("carbohydrate"), sodium_mg: of("sodium"), water_l: of("water") / 1000, mass_kg: of("mass") / 1000,
      n_per_pack: of("pack") === 0 ? null : Math.round(of("pack")),
    } as Food));
  };
  return (
    <Editor title={food === null ? t("staff.drinks.new.food") : food.name} isNew={food === null} said={said} onSave={() => void save()}>
      <div class="sx-shared">
        <TextField id="name" label={t("staff.field.name")} text={name} onText={setName} fault={isTried && name.trim() === "" ? t("staff.drinks.name_needed") : undefined} />
        <TextField id="flavour" label={t("staff.drinks.flavour")} text={flavour} onText={setFlavour} />
        <Choice id="sugar" label={t("staff.drinks.sugar")} value={sugar} options={SUGARS} say={(one) => t(`staff.sugar.${one}`)} onValue={setSugar} />
        <Numbers rules={RULES} typed={typed} isTried={isTried} onTyped={setTyped} />
      </div>
      <Allergens value={allergens} onValue={setAllergens} />
    </Editor>
  );
}
