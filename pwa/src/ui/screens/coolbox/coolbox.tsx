import { useState } from "preact/hooks";

import { decimal } from "@/core/display.ts";
import type { PrepSheet } from "@/protocol/records.ts";
import { currentStage } from "@/store/state.ts";
import { Button } from "@/ui/parts/button.tsx";
import { Nothing } from "@/ui/parts/nothing.tsx";
import { StagePicker, stageTitle } from "@/ui/parts/stage_picker.tsx";
import { Labels } from "@/ui/screens/coolbox/labels.tsx";
import { MixCheck } from "@/ui/screens/coolbox/mix_check.tsx";
import { Sheet } from "@/ui/screens/coolbox/sheet.tsx";
import { printedVersion, riderName, sheetNow } from "@/ui/screens/coolbox/state.ts";
import { href, route } from "@/ui/route.ts";
import { t } from "@/ui/words.ts";

const TABS = ["sheet", "labels", "check"] as const;
type Tab = (typeof TABS)[number];

/** Which sheet this is, what it supersedes, and whether the paper lying about is older. */
function Version({ sheet, what }: { sheet: PrepSheet; what: "prep" | "labels" }) {
  const paper = printedVersion(what);
  const isOld = paper !== null && paper < sheet.sheet_version;
  return (
    <div class="cb-version">
      <p><b>{t("coolbox.version", { n: decimal(sheet.sheet_version, 0) })}</b>{sheet.supersedes ? ` · ${t("coolbox.supersedes", { n: decimal(sheet.supersedes, 0) })}` : ""}</p>
      {sheet.status === "draft" && <p class="flag flag-stop">{t("coolbox.draft")}</p>}
      {(sheet.flags ?? []).some((flag) => flag.code === "plan_superseded") && <p class="flag flag-stop">{t("coolbox.newer_coming")}</p>}
      {isOld && <p class="flag flag-stop" role="status">{t("coolbox.reprint", { paper: decimal(paper, 0), now: decimal(sheet.sheet_version, 0) })}</p>}
      {(sheet.unplanned_rider_ids ?? []).length > 0 && (
        <p>{t("coolbox.unplanned", { riders: (sheet.unplanned_rider_ids ?? []).map(riderName).join(", ") })}</p>
      )}
    </div>
  );
}

function NoSheet() {
  return <p class="cb-none">{t("coolbox.no_sheet")}</p>;
}

/** Coolbox: what to mix, to fill, to label and to check for one stage. */
export function Coolbox() {
  const [tab, setTab] = useState<Tab>("sheet");
  const sheet = sheetNow();
  const stage = currentStage.value;
  const asked = route.value.args[0];
  if (stage === null) return <Nothing title={t("coolbox.name")} />;
  return (
    <main class={`page cb cb-${tab}`} data-stage={asked ?? ""}>
      <header class="page-head cb-head">
        <h1><span class="cb-screen">{t("coolbox.name")}</span><span class="cb-print">{stageTitle(stage)}</span></h1>
        {sheet !== null && tab !== "check" && <Version sheet={sheet} what={tab === "labels" ? "labels" : "prep"} />}
      </header>
      <div class="cb-screen cb-choose">
        <StagePicker />
        <div class="acts" role="group" aria-label={t("coolbox.parts")}>
          {TABS.map((name) => <Button key={name} isPressed={tab === name} onPress={() => setTab(name)}>{t(`coolbox.tab.${name}`)}</Button>)}
          <a class="button" href={href("drinks", "stock")}>{t("coolbox.shelf")}</a>
        </div>
      </div>
      {tab === "check" ? <MixCheck /> : sheet === null ? <NoSheet /> : tab === "labels" ? <Labels sheet={sheet} /> : <Sheet sheet={sheet} />}
    </main>
  );
}
