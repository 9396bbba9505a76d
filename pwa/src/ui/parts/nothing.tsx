import { session } from "@/store/state.ts";
import { LinkLine } from "@/ui/parts/link_line.tsx";
import { href } from "@/ui/route.ts";
import { t } from "@/ui/words.ts";

/** Who enters riders and stages finds nothing until he has. */
const enters = (): boolean => ["physiologist", "admin"].includes(session.value?.member.role ?? "");

/** A screen before its first exchange: what it waits for, and what to do when that does not come. */
export function Nothing({ title }: { title: string }) {
  return (
    <main class="page">
      <h1>{title}</h1>
      <p>{t("road.nothingYet")}</p>
      {enters() ? <p class="acts"><a class="button" href={href("start")}>{t("nothing.start")}</a></p> : <p class="field-hint">{t("nothing.what")}</p>}
      <LinkLine />
    </main>
  );
}
