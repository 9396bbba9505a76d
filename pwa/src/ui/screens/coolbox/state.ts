/** What the coolbox screens read: the stage's sheet, what went to paper, names, and this phone's ticks. */

import { signal } from "@preact/signals";

import type { Drink, FactEvent, Food, Kit, LabelStock, PrepSheet, Rider, SheetPrintedBody } from "@/protocol/records.ts";
import { sheetPrinted } from "@/store/commands.ts";
import { currentStageId, doc, docsOf, folded, session } from "@/store/state.ts";
import { call, Problem } from "@/sync/api.ts";
import { language, spoken, t } from "@/ui/words.ts";

export const sheetNow = (): PrepSheet | null => doc<PrepSheet>(`prep_sheet:${currentStageId.value ?? ""}`);
export const riderOf = (id: string | null | undefined): Rider | null => docsOf("rider").find((rider) => rider.id === id) ?? null;
export const drinkOf = (id: string): Drink | null => docsOf("drink").find((drink) => drink.id === id) ?? null;
export const foodOf = (id: string): Food | null => docsOf("food").find((food) => food.id === id) ?? null;
export const riderName = (id: string | null | undefined): string => {
  const rider = riderOf(id);
  return rider === null ? "?" : `${rider.race_number} ${rider.name}`;
};

const BARE: Required<Omit<Kit, "version">> = {
  id: "kit", buckets_l: [10], label_stock: "a4_3x8", nudge_right_mm: 0, nudge_down_mm: 0, spare_frac: 0.1, drinks_cooled_to_c: 10,
};
/** The team's kit, every field filled; the version stands apart, since an edit needs it. */
export const kitNow = (): Required<Omit<Kit, "version">> & { version: number } => ({ ...BARE, version: 0, ...doc<Kit>("kit:kit") });

const shelf = (name: string): string => `brinebook.coolbox.${name}`;

/** The bucket in use is this phone's own: two soigneurs may mix with two. */
export const bucketL = signal<number | null>(Number(localStorage.getItem(shelf("bucket"))) || null);
export function useBucket(litres: number): void {
  localStorage.setItem(shelf("bucket"), String(litres));
  bucketL.value = litres;
}

/** What this phone has ticked off, by bottle code: a changed bottle has another code and is open again. */
export const ticked = signal<ReadonlySet<string>>(new Set((localStorage.getItem(shelf("ticked")) ?? "").split(" ").filter((code) => code !== "")));
const MOST_TICKS = 600;
export function tick(code: string, isOn: boolean): void {
  const now = [...ticked.value].filter((one) => one !== code);
  ticked.value = new Set(isOn ? [...now, code].slice(-MOST_TICKS) : now);
  localStorage.setItem(shelf("ticked"), [...ticked.value].join(" "));
}

/** The latest version of this stage's sheet that went to paper anywhere in the team. */
export function printedVersion(what: SheetPrintedBody["what"]): number | null {
  const versions = [...folded.value.live.values()]
    .filter((event) => event.kind === "sheet_printed" && event.stage_id === currentStageId.value)
    .map((event) => (event as FactEvent<SheetPrintedBody>).body)
    .filter((body) => body.what === what)
    .map((body) => body.sheet_version);
  return versions.length === 0 ? null : Math.max(...versions);
}

/** Remember that paper was made; a phone that cannot note it still prints. */
export async function notePrinted(what: SheetPrintedBody["what"], sheet: PrepSheet): Promise<void> {
  const team = session.value?.team.id;
  if (team !== undefined) await sheetPrinted(team, sheet.stage_id, { what, sheet_version: sheet.sheet_version }).catch(() => undefined);
}

/** Have the server print a PDF and hand it to this device. Returns what went wrong, or nothing. */
export async function fetchPdf(path: string, name: string): Promise<string> {
  try {
    const glue = path.includes("?") ? "&" : "?";
    const reply = await call("GET", `${path}${glue}language=${language.value}`);
    if (!reply.ok) throw new Problem(reply.status, (await reply.json()) as Record<string, unknown>);
    const link = document.createElement("a");
    link.href = URL.createObjectURL(await reply.blob());
    link.download = `${name}.pdf`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
    return "";
  } catch (problem) {
    const code = problem instanceof Problem ? problem.code : "unreachable";
    const limit = problem instanceof Problem ? problem.limit : "";
    return spoken(`coolbox.problem.${code}`, { limit }) ?? t("coolbox.problem.unreachable");
  }
}

const READS_PROFILES: ReadonlySet<string> = new Set(["physiologist", "admin", "doctor"]);
export const mayPrintCards = (): boolean => READS_PROFILES.has(session.value?.member.role ?? "");

export const STOCKS: readonly LabelStock[] = ["a4_3x8", "a4_2x7", "letter_3x10", "letter_2x5", "roll_62"];
