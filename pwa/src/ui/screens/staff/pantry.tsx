/** The parts all editors of the catalogue share. */

import type { ComponentChildren } from "preact";
import { useEffect, useState } from "preact/hooks";

import type { FieldRule } from "@/core/sweat_day.ts";
import { checked } from "@/core/sweat_day.ts";
import type { Allergen, Edited } from "@/protocol/records.ts";
import { post, put } from "@/sync/api.ts";
import { exchange } from "@/sync/exchange.ts";
import { problemSentence } from "@/ui/screens/staff/acts.ts";
import { NumberField } from "@/ui/screens/staff/parts.tsx";
import { go, href } from "@/ui/route.ts";
import { t } from "@/ui/words.ts";

export const ALLERGENS: readonly Allergen[] = [
  "gluten", "crustaceans", "eggs", "fish", "peanuts", "soybeans", "milk", "nuts", "celery", "mustard", "sesame", "sulphites", "lupin", "molluscs",
];
export type Typed = Readonly<Record<string, string>>;
export type Rules = Readonly<Record<string, FieldRule>>;

export const rule = (name: string, unit: string, low: number, high: number, isOptional = false): FieldRule =>
  ({ name, unit, low, high, ...(isOptional ? { isOptional } : {}) });
export const shown = (value: number | null | undefined): string => (value === null || value === undefined ? "" : String(Math.round(value * 10_000) / 10_000));
export const numberIn = (typed: Typed, rules: Rules, name: string): number | null => {
  const found = rules[name];
  return found === undefined ? null : checked(typed[name] ?? "", found).value;
};
export const isSound = (typed: Typed, rules: Rules): boolean => Object.entries(rules).every(([name, one]) => checked(typed[name] ?? "", one).issue === null);

/** An id for a new record: its name, plain, and a few signs so that two of a name can stand side by side. */
export function newId(name: string): string {
  const plain = name.toLowerCase().normalize("NFD").replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "").slice(0, 40) || "item";
  const tail = [...crypto.getRandomValues(new Uint8Array(3))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return `${plain}-${tail}`;
}

export function Numbers({ rules, typed, isTried, onTyped, hints = {} }: { rules: Rules; typed: Typed; isTried: boolean; onTyped: (typed: Typed) => void; hints?: Typed }) {
  return (
    <>
      {Object.entries(rules).map(([name, one]) => (
        <NumberField key={name} id={`f-${name}`} label={t(`staff.field.${one.name}` as "staff.field.power_w")} rule={one} text={typed[name] ?? ""} isShown={isTried} hint={hints[name]} onText={(text) => onTyped({ ...typed, [name]: text })} />
      ))}
    </>
  );
}

export function TextField({ id, label, text, onText, fault }: { id: string; label: string; text: string; onText: (text: string) => void; fault?: string | undefined }) {
  return (
    <div class={fault === undefined ? "sx-field" : "sx-field sx-field-off"}>
      <label for={id}>{label}</label>
      <input id={id} autocomplete="off" maxLength={80} value={text} aria-invalid={fault !== undefined} {...(fault === undefined ? {} : { "aria-describedby": `${id}-issue` })} onInput={(event) => onText(event.currentTarget.value)} />
      {fault !== undefined && <p class="sx-issue" id={`${id}-issue`} role="alert">{fault}</p>}
    </div>
  );
}

export function Choice<T extends string>({ id, label, value, options, say, onValue }: { id: string; label: string; value: T; options: readonly T[]; say: (one: T) => string; onValue: (one: T) => void }) {
  return (
    <div class="sx-field">
      <label for={id}>{label}</label>
      <select id={id} value={value} onChange={(event) => onValue(event.currentTarget.value as T)}>{options.map((one) => <option key={one} value={one}>{say(one)}</option>)}</select>
    </div>
  );
}

export function Allergens({ value, onValue, legend }: { value: readonly Allergen[]; onValue: (value: Allergen[]) => void; legend?: string }) {
  return (
    <fieldset class="sx-chips">
      <legend>{legend ?? t("staff.drinks.allergens")}</legend>
      {ALLERGENS.map((one) => (
        <label key={one} class={value.includes(one) ? "sx-chip sx-chip-on" : "sx-chip"}>
          <input type="checkbox" checked={value.includes(one)} onChange={(event) => onValue(event.currentTarget.checked ? [...value, one] : value.filter((other) => other !== one))} />
          {t(`staff.allergen.${one}`)}
        </label>
      ))}
    </fieldset>
  );
}

/** Ask the server what a draft comes to, a moment after the last key; null while it cannot say. */
export function useReading<T>(path: string, body: unknown): { told: T | null; fault: string } {
  const [state, setState] = useState<{ told: T | null; fault: string }>({ told: null, fault: "" });
  const text = JSON.stringify(body);
  useEffect(() => {
    let isOld = false;
    const wait = setTimeout(() => {
      post<T>(path, JSON.parse(text)).then(
        (told) => isOld || setState({ told, fault: "" }),
        (problem: unknown) => isOld || setState({ told: null, fault: problemSentence(problem) }),
      );
    }, 300);
    return () => {
      isOld = true;
      clearTimeout(wait);
    };
  }, [path, text]);
  return state;
}

interface EditorProps {
  title: string;
  isNew: boolean;
  said: string;
  onSave: () => void;
  children: ComponentChildren;
}

export function Editor({ title, isNew, said, onSave, children }: EditorProps) {
  return (
    <main class="sx sx-drinks">
      <a class="sx-back" href={href("drinks", "catalogue")}>{t("staff.drinks.back")}</a>
      <header class="sx-head"><h1>{isNew ? title : title}</h1></header>
      <form class="sx-bare" onSubmit={(event) => { event.preventDefault(); onSave(); }}>
        {children}
        <button type="submit" class="button button-quiet button-act">{t("staff.drinks.save")}</button>
        <p role="status" class="sx-said">{said}</p>
      </form>
    </main>
  );
}

/** Keep a record and go back to the list; a refusal comes back as a sentence, and what was typed stays. */
export async function keepRecord(path: string, record: Edited): Promise<string> {
  try {
    await put(`/api/${path}/${record.id}`, record);
    await exchange();
    go("drinks", "catalogue");
    return "";
  } catch (problem) {
    return problemSentence(problem);
  }
}
