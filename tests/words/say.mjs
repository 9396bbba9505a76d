/** Says sentences as the phone does, for the comparison with Python: [language, key, values] in, sentences out. */
import { readFileSync } from "node:fs";

const GENERATED = new URL("../../pwa/src/ui/words/generated/", import.meta.url);
const tables = {};
for (const language of ["en", "fr", "it", "es", "nl"]) {
  tables[language] = {};
  for (const part of ["", ".pages", ".own", ".story", ".crew", ".staff", ".mine"]) {
    Object.assign(tables[language], (await import(new URL(`${language}${part}.ts`, GENERATED).href)).words);
  }
}
const said = JSON.parse(readFileSync(0, "utf8")).map(([language, key, values]) => {
  const sentence = tables[language][key];
  return typeof sentence === "string" ? sentence : sentence(values);
});
process.stdout.write(JSON.stringify(said));
