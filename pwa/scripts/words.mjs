/** Compiles server/brinebook/locales/*.json (an ICU MessageFormat 1 subset) into typed functions. No dependency. */
import { mkdirSync, readdirSync, readFileSync, writeFileSync, existsSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const HERE = dirname(fileURLToPath(import.meta.url));
const LOCALES = join(HERE, "..", "..", "server", "brinebook", "locales");
const SOURCE = join(HERE, "..", "src");
const OUT = join(SOURCE, "ui", "words", "generated");

/** Parse one message into parts: strings, {name} and {name, plural, one {..} other {..}}. */
export function parse(text) {
  let at = 0;
  const fail = (why) => {
    throw new Error(`${why} at ${at} in: ${text}`);
  };
  const word = () => {
    const found = /^\s*([A-Za-z_][A-Za-z0-9_]*|=\d+)\s*/.exec(text.slice(at));
    if (found === null) return fail("a name is missing");
    at += found[0].length;
    return found[1];
  };
  const cases = () => {
    const found = {};
    while (text[at] !== "}") {
      const name = word();
      if (text[at] !== "{") fail("{ is missing");
      at += 1;
      found[name] = message(true);
      at += 1;
      while (text[at] === " ") at += 1;
    }
    if (found.other === undefined) fail("other is missing");
    return found;
  };
  const argument = () => {
    const name = word();
    if (text[at] === "}") return { name };
    if (text[at] !== ",") fail("a comma is missing");
    at += 1;
    const kind = word();
    if (kind !== "plural" && kind !== "select") fail(`${kind} is not in the subset`);
    if (text[at] !== ",") fail("a comma is missing");
    at += 1;
    while (text[at] === " ") at += 1;
    return { name, kind, cases: cases() };
  };
  function message(isNested) {
    const parts = [];
    let plain = "";
    const flush = () => {
      if (plain !== "") parts.push(plain);
      plain = "";
    };
    while (at < text.length) {
      const sign = text[at];
      if (sign === "'" && text[at + 1] === "'") {
        plain += "'";
        at += 2;
      } else if (sign === "{") {
        flush();
        at += 1;
        parts.push(argument());
        at += 1;
      } else if (sign === "}" && isNested) {
        break;
      } else if (sign === "#" && isNested) {
        flush();
        parts.push({ hash: true });
        at += 1;
      } else {
        plain += sign;
        at += 1;
      }
    }
    flush();
    return parts;
  }
  return message(false);
}

function names(parts, found = new Map()) {
  for (const part of parts) {
    if (typeof part === "string" || part.hash) continue;
    found.set(part.name, part.kind === "plural" ? "number" : (found.get(part.name) ?? "string | number"));
    for (const branch of Object.values(part.cases ?? {})) names(branch, found);
  }
  return found;
}

function expression(parts, hashName) {
  const code = parts.map((part) => {
    if (typeof part === "string") return JSON.stringify(part);
    if (part.hash) return hashName === undefined ? '"#"' : `p.${hashName}`;
    if (part.kind === undefined) return `p.${part.name}`;
    const inner = part.kind === "plural" ? part.name : hashName;
    const branches = Object.entries(part.cases).map(([name, branch]) =>
      `${JSON.stringify(name.replace("=", ""))}: () => ${expression(branch, inner)}`);
    const pick = part.kind === "plural" ? "plural" : "choice";
    return `${pick}(p.${part.name}, { ${branches.join(", ")} })`;
  });
  if (code.length === 0) return '""';
  return code.length === 1 && code[0].startsWith('"') ? code[0] : `\`\` + ${code.join(" + ")}`.replace("`` + ", '"" + ');
}

function table(catalogue, keys, language) {
  const lines = keys.map((key) => {
    const parts = parse(catalogue[key]);
    const used = names(parts);
    if (used.size === 0) return `  ${JSON.stringify(key)}: ${JSON.stringify(parts.join(""))},`;
    const type = [...used].map(([name, kind]) => `${name}: ${kind}`).join("; ");
    return `  ${JSON.stringify(key)}: (p: { ${type} }) => ${expression(parts, undefined)},`;
  });
  return [
    "/* Made by scripts/words.mjs. */",
    'import { choice, pluralOf } from "../plural.ts";',
    `const plural = pluralOf(${JSON.stringify(language)});`,
    "void plural; void choice;",
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
function staffKeys(keys) {
  const all = sources(SOURCE);
  const spelt = (isStaff, key) => all.some((file) => file.isStaff === isStaff && file.text.includes(`"${key}"`));
  return new Set(keys.filter((key) => key.startsWith("staff.") || (!spelt(false, key) && spelt(true, key))));
}

/** A language may stand in several files: fr.json, fr.staff.json. */
function catalogueOf(language) {
  const files = readdirSync(LOCALES).filter((name) => name.startsWith(`${language}.`) && name.endsWith(".json")).sort();
  return Object.assign({}, ...files.map((name) => JSON.parse(readFileSync(join(LOCALES, name), "utf8"))));
}

function main() {
  mkdirSync(OUT, { recursive: true });
  const english = catalogueOf("en");
  const staff = staffKeys(Object.keys(english));
  for (const file of readdirSync(LOCALES).filter((name) => /^[a-z]+\.json$/.test(name))) {
    const language = file.replace(".json", "");
    const catalogue = { ...english, ...catalogueOf(language) };
    const keys = Object.keys(english);
    const write = (name, chosen) => {
      const path = join(OUT, name);
      const text = table(catalogue, chosen, language);
      if (!existsSync(path) || readFileSync(path, "utf8") !== text) writeFileSync(path, text);
    };
    const isCrew = (key) => /^(handUp|weighRoom)\./.test(key);
    write(`${language}.ts`, keys.filter((key) => !staff.has(key) && !isCrew(key)));
    write(`${language}.crew.ts`, keys.filter(isCrew));
    write(`${language}.staff.ts`, keys.filter((key) => staff.has(key)));
  }
}

if (process.argv[1] === fileURLToPath(import.meta.url)) main();
