/**
 * Compiles server/brinebook/locales/*.json (ICU MessageFormat 1) into typed functions, one file per language and part.
 * `--check` lists sentences a language does not have yet and fails when there are any.
 */
import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

import { parse as parseMessage } from "@messageformat/parser";

const HERE = dirname(fileURLToPath(import.meta.url));
const LOCALES = join(HERE, "..", "..", "server", "brinebook", "locales");
const SOURCE = join(HERE, "..", "src");
const OUT = join(SOURCE, "ui", "words", "generated");
export const PARTS = ["main", "pages", "own", "story", "crew", "staff", "mine"];
/** What the road does not say comes with the first other page, and the reasons behind a figure with the first plan. */
const PAGES = /^(bus|fact|role|symptom|twin|weeks)\./;
const OWN = /^(hold|join|me|problem|theme|unit|verdict)\./;
/** What the server alone can answer is said on a page that no phone keeps. */
const MINE = /^mine\./;
const STORY = /^(detail|equation|flag|quantity|reason|source|why)\./;
/** Sentences of the hands' screens travel apart from the rider's. */
const CREW = /^(handUp|returns|slate|coolbox|weighRoom|label|ride|sharedFile)\./;

const pluralNames = (language) => [...new Intl.PluralRules(language).resolvedOptions().pluralCategories];

/** Parse one message; anything but plain arguments, plural and select is refused, and so is a choice without "other". */
export function parse(text, language = "en") {
  const tokens = parseMessage(text, { cardinal: pluralNames(language), strict: true });
  const walk = (token) => {
    if (token.type === "function" || token.type === "selectordinal") throw new Error(`${token.type} is not used here: ${text}`);
    if (token.type === "content" && /[{}]/.test(token.value)) throw new Error(`a brace stands alone in: ${text}`);
    if (token.pluralOffset) throw new Error(`offset is not used here: ${text}`);
    if (token.cases === undefined) return;
    if (!token.cases.some(({ key }) => key === "other")) throw new Error(`other is missing in: ${text}`);
    token.cases.forEach((branch) => branch.tokens.forEach(walk));
  };
  tokens.forEach(walk);
  return tokens;
}

/** The arguments of a message and what each is: "number" for one that counts. */
export function names(tokens, found = new Map()) {
  for (const token of tokens) {
    if (token.arg === undefined) continue;
    const kind = token.type === "plural" ? "number" : (found.get(token.arg) ?? "string | number");
    if (token.type !== "octothorpe") found.set(token.arg, kind);
    for (const branch of token.cases ?? []) names(branch.tokens, found);
  }
  return found;
}

function expression(tokens, counted) {
  const code = tokens.map((token) => {
    switch (token.type) {
      case "content": return JSON.stringify(token.value);
      case "octothorpe": return `p.${counted}`;
      case "argument": return `p.${token.arg}`;
      default: {
        const isPlural = token.type === "plural";
        const inner = isPlural ? token.arg : counted;
        const branches = token.cases.map(({ key, tokens: within }) => `${JSON.stringify(key)}: () => ${expression(within, inner)}`);
        return `${isPlural ? "plural" : "choice"}(p.${token.arg}, { ${branches.join(", ")} })`;
      }
    }
  });
  if (code.length === 0) return '""';
  return code.length === 1 && code[0].startsWith('"') ? code[0] : `"" + ${code.join(" + ")}`;
}

function sentence(key, tokens) {
  const used = names(tokens);
  if (used.size === 0) return `  ${JSON.stringify(key)}: ${JSON.stringify(tokens.map(({ value }) => value).join(""))},`;
  const type = [...used].map(([name, kind]) => `${name}: ${kind}`).join("; ");
  return `  ${JSON.stringify(key)}: (p: { ${type} }) => ${expression(tokens, undefined)},`;
}

function table(catalogue, keys, language) {
  const lines = keys.map((key) => sentence(key, parse(catalogue[key].text, catalogue[key].language)));
  const code = lines.join("\n");
  return [
    "/* Made by scripts/words.mjs. */",
    ...(/\b(plural|choice)\(p\./.test(code) ? ['import { choice, pluralOf } from "../plural.ts";'] : []),
    ...(/\bplural\(p\./.test(code) ? [`const plural = pluralOf(${JSON.stringify(language)});`] : []),
    ...(/\bchoice\(p\./.test(code) || !/\bplural\(p\./.test(code) ? [] : ["void choice;"]),
    "export const words = {",
    ...lines,
    "} as const;",
    "",
  ].join("\n");
}

function sources(folder) {
  if (!existsSync(folder)) return [];
  return readdirSync(folder, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && /\.tsx?$/.test(entry.name) && !entry.parentPath.includes("generated"))
    .map((entry) => ({
      isStaff: entry.parentPath.includes(join("screens", "staff")),
      text: readFileSync(join(entry.parentPath, entry.name), "utf8"),
    }));
}

/** A key belongs to the staff chunk when staff screens alone spell it, or its name says so. */
function partsOf(keys) {
  const all = sources(SOURCE);
  const spelt = (isStaff, key) => all.some((file) => file.isStaff === isStaff && file.text.includes(`"${key}"`));
  const isStaff = (key) => key.startsWith("staff.") || (!spelt(false, key) && spelt(true, key));
  const partOf = (key) => {
    if (CREW.test(key)) return "crew";
    if (PAGES.test(key)) return "pages";
    if (OWN.test(key)) return "own";
    if (MINE.test(key)) return "mine";
    if (STORY.test(key)) return "story";
    return isStaff(key) ? "staff" : "main";
  };
  return new Map(keys.map((key) => [key, partOf(key)]));
}

/** A language may stand in several files: fr.json, fr.staff.json, fr.sheets.json. */
export function catalogueOf(language) {
  const files = readdirSync(LOCALES).filter((name) => name.startsWith(`${language}.`) && name.endsWith(".json")).sort();
  return Object.assign({}, ...files.map((name) => JSON.parse(readFileSync(join(LOCALES, name), "utf8"))));
}

export const languages = () => readdirSync(LOCALES).filter((name) => /^[a-z]+\.json$/.test(name)).map((name) => name.replace(".json", ""));

/** What is wrong with a language beside the English: sentences missing, too many, or with other arguments. */
export function faultsOf(language) {
  const english = catalogueOf("en");
  const mine = catalogueOf(language);
  const shape = (text, tongue) => JSON.stringify([...names(parse(text, tongue))].sort());
  return {
    missing: Object.keys(english).filter((key) => mine[key] === undefined),
    extra: Object.keys(mine).filter((key) => english[key] === undefined),
    unlike: Object.keys(mine).filter((key) => english[key] !== undefined && shape(mine[key], language) !== shape(english[key], "en")),
  };
}

function writeIfNew(name, text) {
  const path = join(OUT, name);
  if (!existsSync(path) || readFileSync(path, "utf8") !== text) writeFileSync(path, text);
}

const fileOf = (language, part) => (part === "main" ? language : `${language}.${part}`);

function loaders(all) {
  const lines = all.flatMap((language) => PARTS.filter((part) => fileOf(language, part) !== "en").map((part) => `  "${language} ${part}": () => import("./${fileOf(language, part)}.ts"),`));
  return ["/* Made by scripts/words.mjs. */", "export const LOADERS = {", ...lines, "} as const;", ""].join("\n");
}

function main() {
  mkdirSync(OUT, { recursive: true });
  const english = catalogueOf("en");
  const part = partsOf(Object.keys(english));
  for (const language of languages()) {
    const own = catalogueOf(language);
    const catalogue = Object.fromEntries(Object.keys(english).map((key) =>
      [key, own[key] === undefined ? { text: english[key], language: "en" } : { text: own[key], language }]));
    for (const name of PARTS) {
      writeIfNew(`${fileOf(language, name)}.ts`, table(catalogue, Object.keys(english).filter((key) => part.get(key) === name), language));
    }
    const { missing } = faultsOf(language);
    if (missing.length > 0) console.warn(`words: ${language} lacks ${missing.length} sentences and says them in English: ${missing.slice(0, 5).join(", ")} …`);
  }
  writeIfNew("loaders.ts", loaders(languages()));
}

function check() {
  let isWhole = true;
  for (const language of languages()) {
    for (const [fault, keys] of Object.entries(faultsOf(language))) {
      if (keys.length > 0) console.error(`${language} ${fault}: ${keys.join(" ")}`);
      isWhole &&= keys.length === 0;
    }
  }
  if (!isWhole) process.exitCode = 1;
}

if (process.argv[1] === fileURLToPath(import.meta.url)) process.argv.includes("--check") ? check() : main();
