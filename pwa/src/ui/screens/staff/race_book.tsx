import { decimal, stageDay, stageTime } from "@/core/display.ts";
import { raceLengthKm } from "@/core/race_book.ts";
import type { Stage } from "@/protocol/records.ts";
import { session, stages } from "@/store/state.ts";
import { href, route } from "@/ui/route.ts";
import { canEdit } from "@/ui/screens/staff/look.ts";
import { Empty, Head, stageTitle } from "@/ui/screens/staff/parts.tsx";
import { StageEditor } from "@/ui/screens/staff/stage_editor.tsx";
import { t } from "@/ui/words.ts";

const NEW = "new";

export function RaceBookScreen() {
  const stageId = route.value.args[0] ?? null;
  const stage = stageId === NEW ? blankStage() : stages.value.find((s) => s.id === stageId);
  if (stageId !== null && stage !== undefined) {
    return (
      <main class="sx sx-book">
        <p><a class="sx-back" href={href("race-book")}>{t("staff.book.back")}</a></p>
        <StageEditor stage={stage} isNew={stageId === NEW} key={stage.id} />
      </main>
    );
  }
  return (
    <main class="sx sx-book">
      <Head title={t("staff.book.title")} said={t("staff.book.count", { n: stages.value.length })}>
        {canEdit.value && <a class="button button-quiet" href={href("race-book", NEW)}>{t("staff.book.add")}</a>}
      </Head>
      {stages.value.length === 0 ? <Empty text={t("staff.book.empty")} /> : <StageTable />}
    </main>
  );
}

const DAY_MS = 86_400_000;

/** The day after the last one in the book, at noon if there is none. */
function blankStage(): Stage {
  const last = stages.value.at(-1);
  const dayIndex = (last?.day_index ?? 0) + 1;
  return {
    id: `stage-${dayIndex}`, version: 0, number: (last?.number ?? 0) + 1, day_index: dayIndex, name: "", kind: "flat",
    start_at_ms: last === undefined ? Date.UTC(new Date().getUTCFullYear(), 6, 1, 10) : last.start_at_ms + DAY_MS,
    time_zone: last?.time_zone ?? session.value?.team.time_zone ?? "Europe/Paris",
  };
}

function StageTable() {
  return (
    <div class="sx-scroll" tabIndex={0} role="region" aria-label={t("staff.book.table")}>
      <table class="sx-table sx-stack sx-book-table">
        <caption class="hidden">{t("staff.book.table")}</caption>
        <thead>
          <tr>
            <th scope="col">{t("staff.stage")}</th>
            <th scope="col">{t("staff.book.day")}</th>
            <th scope="col">{t("staff.book.kind")}</th>
            <th scope="col" class="sx-num">{t("staff.book.length")}</th>
            <th scope="col" class="sx-num">{t("staff.book.feeds")}</th>
            <th scope="col">{t("staff.book.needs")}</th>
          </tr>
        </thead>
        <tbody>{stages.value.map((stage) => <StageRow key={stage.id} stage={stage} />)}</tbody>
      </table>
    </div>
  );
}

function StageRow({ stage }: { stage: Stage }) {
  const lengthKm = raceLengthKm(stage);
  return (
    <tr class="sx-row">
      <th scope="row"><a class="sx-row-link" href={href("race-book", stage.id)}>{stageTitle(stage)}</a></th>
      <td class="sx-nowrap" data-label={t("staff.book.day")}>{stageDay(stage.start_at_ms, stage.time_zone)} {stage.kind !== "rest" && stageTime(stage.start_at_ms, stage.time_zone)}</td>
      <td data-label={t("staff.book.kind")}>{t(`staff.kind.${stage.kind}`)}</td>
      <td class="sx-num sx-nowrap" data-label={t("staff.book.length")}>{lengthKm === null ? "—" : `${decimal(lengthKm, 0)} km`}</td>
      <td class="sx-num" data-label={t("staff.book.feeds")}>{stage.kind === "rest" ? "—" : (stage.feed_points ?? []).length}</td>
      <td data-label={t("staff.book.needs")}>{needsText(stage)}</td>
    </tr>
  );
}

/** What a stage still lacks before it can be planned. */
function needsText(stage: Stage): string {
  if (stage.kind === "rest") return "";
  const missing = [
    (stage.course ?? []).length > 1 ? "" : t("staff.book.no_course"),
    (stage.forecast ?? []).length > 0 ? "" : t("staff.book.no_forecast"),
    (stage.feed_points ?? []).length > 0 ? "" : t("staff.book.no_feeds"),
  ].filter((text) => text !== "");
  return missing.length === 0 ? t("staff.book.ready") : missing.join(", ");
}
