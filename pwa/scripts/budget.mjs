/** Prints what the built app weighs, gzip -9, beside its budgets; fails when one is broken. */
import { readdirSync, readFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { gzipSync } from "node:zlib";

const DIST = process.argv[2] ?? join(dirname(fileURLToPath(import.meta.url)), "..", "dist");
const manifest = JSON.parse(readFileSync(join(DIST, ".vite", "manifest.json"), "utf8"));
const LANGUAGES = ["en", "fr", "it", "es", "nl"];
const kB = (name) => gzipSync(readFileSync(join(DIST, name)), { level: 9 }).length / 1000;
const sum = (names) => [...names].reduce((total, name) => total + kB(name), 0);
const raw = (names) => [...names].reduce((total, name) => total + readFileSync(join(DIST, name)).length / 1000, 0);

/** The files an entry of the manifest needs before it can run. */
function filesOf(key, found = new Set()) {
  const chunk = manifest[key];
  if (chunk === undefined) throw new Error(`the build has no ${key}`);
  if (found.has(chunk.file)) return found;
  found.add(chunk.file);
  for (const name of chunk.css ?? []) found.add(name);
  for (const name of chunk.imports ?? []) filesOf(name, found);
  return found;
}

const union = (...sets) => new Set(sets.flatMap((set) => [...set]));
const minus = (set, less) => new Set([...set].filter((name) => !less.has(name)));
const js = (set) => new Set([...set].filter((name) => name.endsWith(".js")));
const words = (language, part) => `src/ui/words/generated/${language}${part}.ts`;
const all = readdirSync(DIST, { recursive: true, withFileTypes: true })
  .filter((entry) => entry.isFile()).map((entry) => join(entry.parentPath, entry.name).slice(DIST.length + 1));

const rider = union(filesOf("index.html"), filesOf("src/ui/screens/rider/road.tsx"));
const me = union(rider, filesOf("src/ui/screens/shared/me.tsx"), filesOf("src/ui/screens/rider/index.ts"), filesOf(words("en", ".story")), filesOf(words("en", ".pages")), filesOf(words("en", ".own")));
const crew = minus(union(filesOf("src/ui/screens/shared/crew.ts"), filesOf(words("en", ".crew"))), me);
const staffFiles = all.filter((name) => /^assets\/staff\//.test(name) && name.endsWith(".js"));
const css = all.filter((name) => name.endsWith(".css") && !/\/(staff|hold)\//.test(name));
const hold = all.filter((name) => /^assets\/hold\//.test(name));
const fonts = all.filter((name) => name.endsWith(".woff2"));
const shell = all.filter((name) => /\.(js|css|html|woff2|webmanifest|svg|png)$/.test(name) && !/^assets\/[^/]+\//.test(name) && name !== "sw.js");
const isPacked = (name) => /\.(woff2|png)$/.test(name);
const weight = (names) => sum(names.filter((name) => !isPacked(name))) + raw(names.filter(isPacked));
const riderWords = (language) => [words(language, ""), words(language, ".pages")].map((key) => manifest[key]?.file).filter((file) => file !== undefined);

export const rows = [
  ["rider route, script", sum(js(rider)), 40],
  ["style and HTML", sum([...css, "index.html"]), 8],
  ["worker", kB("sw.js"), 7],
  ["fonts, as packed", raw(fonts), 75],
  ["first visit of a rider", sum(js(rider)) + sum([...css, "index.html"]) + raw(fonts), 140],
  ["precache of a rider, with icons", weight(shell), 220],
  ["soigneur and car, on top", sum(js(crew)), 15],
  ["staff, all chunks", sum(staffFiles), 90],
  ["a phone that is shared, on top", sum(hold), 10],
  ...LANGUAGES.filter((language) => language !== "en").map((language) => [`language ${language}, for a rider`, sum(riderWords(language)), 5]),
  ...LANGUAGES.flatMap((language) => [[".story", "reasons"], [".own", "choices"]].map(([part, name]) =>
    [`language ${language}, ${name}`, kB(manifest[words(language, part)].file), 5])),
];

let isOver = false;
for (const [name, size, limit] of rows) {
  isOver ||= size > limit;
  console.log(`${size > limit ? "OVER" : "ok  "} ${name.padEnd(34)} ${size.toFixed(1).padStart(6)} of ${limit} kB`);
}
if (process.argv.includes("--files")) for (const name of js(rider)) console.log(`  ${kB(name).toFixed(2)} ${name}`);
if (isOver) process.exitCode = 1;
