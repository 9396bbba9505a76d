import { readdirSync, readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { afterEach, beforeAll, describe, expect, it } from "vitest";

// The compiler is plain JavaScript, so that Node runs it before anything is built.
import { faultsOf, parse } from "../../pwa/scripts/words.mjs";
import { words as crew } from "@/ui/words/generated/en.crew.ts";
import { words as mine } from "@/ui/words/generated/en.mine.ts";
import { words as own } from "@/ui/words/generated/en.own.ts";
import { words as pages } from "@/ui/words/generated/en.pages.ts";
import { words as staff } from "@/ui/words/generated/en.staff.ts";
import { words as story } from "@/ui/words/generated/en.story.ts";
import { words } from "@/ui/words/generated/en.ts";
import { LANGUAGES, speak, spoken, t, wantWords } from "@/ui/words.ts";

const LOCALES = fileURLToPath(new URL("../../server/brinebook/locales/", import.meta.url));
const read = (file: string): Record<string, string> => JSON.parse(readFileSync(LOCALES + file, "utf8")) as Record<string, string>;
const files = readdirSync(LOCALES).filter((file) => file.endsWith(".json"));
const others = Object.keys(LANGUAGES).filter((language) => language !== "en");

beforeAll(() => wantWords("pages", "own", "story", "crew", "staff"));
afterEach(() => speak("en"));

describe("the compiled catalogue", () => {
  it("holds every English sentence once", () => {
    const keys = [...Object.keys(words), ...Object.keys(pages), ...Object.keys(own), ...Object.keys(story), ...Object.keys(crew), ...Object.keys(staff), ...Object.keys(mine)];
    const written = files.filter((file) => file.startsWith("en.")).flatMap((file) => Object.keys(read(file)));
    expect(keys.sort()).toEqual(written.sort());
  });

  it("fills in values and chooses plurals", () => {
    expect(t("link.held", { n: 5 })).toBe("5 held on this phone");
    expect(t("bus.kept", { n: 1 })).toBe("1 entry kept on this phone.");
    expect(t("bus.kept", { n: 3 })).toBe("3 entries kept on this phone.");
    expect(t("pocket.every_nth_salty", { n: 3, salty: "A+", base: "A" })).toBe("Every 3rd bottle A+, else A");
    expect(t("pocket.every_nth_salty", { n: 5, salty: "A+", base: "A" })).toBe("Every 5th bottle A+, else A");
    expect(t("bus.change", { before: "69.1 kg", after: "67.4 kg", kg: "1.7 kg", way: "lighter" })).toBe("69.1 kg → 67.4 kg: 1.7 kg lighter");
    expect(t("bus.thatsIt")).toBe("That's it");
  });

  it("says null for a code it has no sentence for", () => {
    expect(spoken("flag.of_the_future")).toBeNull();
  });

  it.each([
    "{n, plural, one {x}}", "{n, number}", "{", "{n, plural, one {x}", "{n, plural, few {x} other {y}}", "{n, selectordinal, other {#th}}",
  ])("refuses %j", (text) => {
    expect(() => parse(text)).toThrow();
  });

  it.each(files)("%s parses by the plural rules of its language", (file) => {
    for (const [key, text] of Object.entries(read(file))) expect(() => parse(text, file.split(".")[0] ?? "en"), key).not.toThrow();
  });

  it.each(others)("%s has every sentence of the English, with the same values, and no other", (language) => {
    expect(faultsOf(language)).toEqual({ missing: [], extra: [], unlike: [] });
  });
});

describe("another language", () => {
  it("is spoken after its chunk came, and English again after that", async () => {
    await speak("fr");
    expect(t("nav.road")).toBe(read("fr.json")["nav.road"]);
    await speak("en");
    expect(t("nav.road")).toBe("Road");
  });
});
