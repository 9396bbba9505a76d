import { LinkLine } from "@/ui/parts/link_line.tsx";
import { t } from "@/ui/words.ts";

/** A screen before its first exchange: what it waits for, and what to do when that does not come. */
export function Nothing({ title }: { title: string }) {
  return <main class="page"><h1>{title}</h1><p>{t("road.nothingYet")}</p><p class="field-hint">{t("nothing.what")}</p><LinkLine /></main>;
}
