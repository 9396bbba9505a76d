import { useState } from "preact/hooks";

import { decimal, parseNumber } from "@/core/display.ts";
import type { LabelLine, Supply } from "@/protocol/records.ts";
import { Allergens, Choice, Editor, isSound, keepRecord, newId, numberIn, Numbers, rule, type Rules, shown, TextField, type Typed, useReading } from "@/ui/screens/staff/pantry.tsx";
import { spoken, t } from "@/ui/words.ts";

const SCOOP = rule("scoop_g", "g", 0.1, 500, true);
const PACK = rule("pack_g", "g", 1, 50_000, true);
const RULES: Rules = {
  scoop_g: SCOOP, pack_g: PACK,
  serving_g: rule("serving_g", "g", 0.1, 1000, true), serving_ml: rule("serving_ml", "mL", 10, 5000, true),
  maltodextrin: rule("maltodextrin_pct", "%", 0, 100, true), sucrose: rule("sucrose_pct", "%", 0, 100, true),
};
const NUTRIENTS = ["carbohydrate", "fructose", "sodium", "salt"] as const;
const UNITS = ["g", "mg", "mmol"] as const;
const BASES = ["100_g", "serving", "100_ml", "litre"] as const;
const KINDS = ["powder", "table_salt", "citrate"] as const;

interface TypedLine { nutrient: LabelLine["nutrient"]; text: string; unit: LabelLine["unit"]; basis: LabelLine["basis"] }
interface Question { key: string; code: string; line_n: number; typed: number; otherwise: number | null; is_per_l: boolean }
interface Read { sodium_mg_per_g: number; carbohydrate_g_per_g: number; fructose_frac: number | null; questions: Question[] }

const lineOf = (line: TypedLine): LabelLine | null => {
  const typed = parseNumber(line.text);
  return typed === null || typed < 0 ? null : { nutrient: line.nutrient, typed, unit: line.unit, basis: line.basis };
};

function LineFields({ line, n, onLine, onGone }: { line: TypedLine; n: number; onLine: (line: TypedLine) => void; onGone: () => void }) {
  const isBad = line.text.trim() !== "" && lineOf(line) === null;
  return (
    <li class="sx-label-line">
      <Choice id={`n-${n}`} label={t("staff.drinks.nutrient")} value={line.nutrient} options={NUTRIENTS} say={(one) => t(`staff.nutrient.${one}`)} onValue={(nutrient) => onLine({ ...line, nutrient })} />
      <div class={isBad ? "sx-field sx-field-off" : "sx-field"}>
        <label for={`v-${n}`}>{t("staff.drinks.value")}</label>
        <input id={`v-${n}`} inputMode="decimal" autocomplete="off" value={line.text} aria-invalid={isBad} onInput={(event) => onLine({ ...line, text: event.currentTarget.value })} />
      </div>
      <Choice id={`u-${n}`} label={t("staff.drinks.unit")} value={line.unit} options={UNITS} say={(one) => one} onValue={(unit) => onLine({ ...line, unit })} />
      <Choice id={`b-${n}`} label={t("staff.drinks.basis")} value={line.basis} options={BASES} say={(one) => t(`staff.basis_of.${one}`)} onValue={(basis) => onLine({ ...line, basis })} />
      <button type="button" class="button button-quiet" aria-label={t("staff.drinks.remove_line", { n: n + 1 })} onClick={onGone}>{t("staff.drinks.remove")}</button>
    </li>
  );
}

function Asked({ question, line, onAnswer }: { question: Question; line: TypedLine | undefined; onAnswer: () => void }) {
  const isSodium = line?.nutrient === "sodium" || line?.nutrient === "salt";
  const unit = `${isSodium ? "mg" : "g"}${question.is_per_l ? "/L" : "/g"}`;
  const figure = (value: number | null): string => (value === null ? "" : `${decimal(value, value < 10 ? 1 : 0)} ${unit}`);
  const values = { line: question.line_n + 1, typed: figure(question.typed), otherwise: figure(question.otherwise), what: line === undefined ? "" : t(`staff.nutrient.${line.nutrient}`) };
  const isMissing = question.code === "serving_missing";
  return (
    <li class="flag flag-stop sx-question">
      <p>{spoken(`staff.ask.${question.code}`, values) ?? question.code}</p>
      {!isMissing && <button type="button" class="button button-quiet" onClick={onAnswer}>{t("staff.drinks.as_typed", { typed: values.typed })}</button>}
    </li>
  );
}

/** A powder or a salt: its label as printed, what has to be asked about it, its scoop and its pack. */
export function SupplyEditor({ supply }: { supply: Supply | null }) {
  const [name, setName] = useState(supply?.name ?? "");
  const [flavour, setFlavour] = useState(supply?.flavour ?? "");
  const [kind, setKind] = useState<NonNullable<Supply["kind"]>>(supply?.kind ?? "powder");
  const [typed, setTyped] = useState<Typed>({
    scoop_g: shown(supply?.scoop_g), pack_g: shown(supply?.pack_g), serving_g: shown(supply?.serving_g),
    serving_ml: supply?.serving_l ? shown(supply.serving_l * 1000) : "",
    maltodextrin: supply?.maltodextrin_frac ? shown(supply.maltodextrin_frac * 100) : "", sucrose: supply?.sucrose_frac ? shown(supply.sucrose_frac * 100) : "",
  });
  const [lines, setLines] = useState<TypedLine[]>((supply?.label ?? []).map(({ nutrient, typed: value, unit, basis }) => ({ nutrient, text: shown(value), unit, basis })));
  const [answered, setAnswered] = useState<readonly string[]>(supply?.answered ?? []);
  const [allergens, setAllergens] = useState(supply?.allergens ?? []);
  const [isTried, setTried] = useState(false);
  const [said, setSaid] = useState("");
  const of = (field: string): number | null => numberIn(typed, RULES, field);
  const isPowder = kind === "powder";
  const label = isPowder ? lines.map(lineOf).filter((line) => line !== null) : [];
  const draft: Supply = {
    id: supply?.id ?? "draft", version: supply?.version ?? 0, name: name || "?", kind, flavour, allergens, scoop_g: of("scoop_g"), pack_g: of("pack_g"),
    serving_g: of("serving_g"), serving_l: of("serving_ml") === null ? null : (of("serving_ml") ?? 0) / 1000, label, answered: [...answered],
    maltodextrin_frac: (of("maltodextrin") ?? 0) / 100, sucrose_frac: (of("sucrose") ?? 0) / 100, dextrose_equivalent_n: supply?.dextrose_equivalent_n ?? 10,
    sodium_mg_per_g: supply?.sodium_mg_per_g ?? 0, carbohydrate_g_per_g: supply?.carbohydrate_g_per_g ?? 0, fructose_frac: supply?.fructose_frac ?? null,
  };
  const { told, fault } = useReading<Read>("/api/labels/read", draft);
  const save = async (): Promise<void> => {
    setTried(true);
    if (name.trim() === "" || !isSound(typed, RULES) || (isPowder && lines.some((line) => lineOf(line) === null))) return setSaid(t("staff.drinks.not_kept"));
    if (isPowder && told === null) return setSaid(fault || t("staff.problem.unreachable"));
    if (told !== null && told.questions.length > 0) return setSaid(t("staff.drinks.answer_first"));
    const figures = isPowder && told !== null && label.length > 0 ? { sodium_mg_per_g: told.sodium_mg_per_g, carbohydrate_g_per_g: Math.min(1, told.carbohydrate_g_per_g), fructose_frac: told.fructose_frac } : {};
    setSaid(await keepRecord("supplies", { ...draft, ...figures, id: supply?.id ?? newId(name), name: name.trim() } as Supply));
  };
  const setLine = (n: number, line: TypedLine): void => {
    setLines(lines.map((one, i) => (i === n ? line : one)));
    setAnswered(answered.filter((key) => !key.startsWith(`${n}:`)));
  };
  return (
    <Editor title={supply === null ? t("staff.drinks.new.supply") : supply.name} isNew={supply === null} said={said} onSave={() => void save()}>
      <div class="sx-shared">
        <TextField id="name" label={t("staff.field.name")} text={name} onText={setName} fault={isTried && name.trim() === "" ? t("staff.drinks.name_needed") : undefined} />
        <Choice id="kind" label={t("staff.drinks.kind")} value={kind} options={KINDS} say={(one) => t(`staff.supply_kind.${one}`)} onValue={setKind} />
        <TextField id="flavour" label={t("staff.drinks.flavour")} text={flavour} onText={setFlavour} />
      </div>
      {isPowder && (
        <section class="sx-panel">
          <h2>{t("staff.drinks.label")}</h2>
          <p class="sx-hint">{t("staff.drinks.label_about")}</p>
          <ul class="sx-label-lines">
            {lines.map((line, n) => <LineFields key={n} line={line} n={n} onLine={(next) => setLine(n, next)} onGone={() => { setLines(lines.filter((_, i) => i !== n)); setAnswered([]); }} />)}
          </ul>
          <button type="button" class="button button-quiet" onClick={() => setLines([...lines, { nutrient: lines.length === 0 ? "carbohydrate" : "sodium", text: "", unit: lines.length === 0 ? "g" : "mg", basis: "100_g" }])}>{t("staff.drinks.add_line")}</button>
          {told !== null && label.length > 0 && (
            <p class="sx-rule" role="status">{t("staff.drinks.reads", { sodium: decimal(told.sodium_mg_per_g, 2), carbohydrate: decimal(told.carbohydrate_g_per_g, 2), fructose: told.fructose_frac === null ? t("staff.drinks.fructose_unknown") : t("staff.drinks.fructose_known", { percent: decimal(told.fructose_frac * 100, 0) }) })}</p>
          )}
          {fault !== "" && <p class="sx-issue" role="alert">{fault}</p>}
          {told !== null && told.questions.length > 0 && (
            <ul class="flags" aria-label={t("staff.drinks.questions")}>
              {told.questions.map((question) => <Asked key={question.key} question={question} line={lines[question.line_n]} onAnswer={() => setAnswered([...answered, question.key])} />)}
            </ul>
          )}
        </section>
      )}
      <div class="sx-shared"><Numbers rules={isPowder ? RULES : { scoop_g: SCOOP, pack_g: PACK }} typed={typed} isTried={isTried} onTyped={setTyped} /></div>
      <Allergens value={allergens} onValue={setAllergens} />
    </Editor>
  );
}
