import { stageDay } from "@/core/display.ts";
import type { Stage } from "@/protocol/records.ts";
import { chosenStageId, currentStageId, stages } from "@/store/state.ts";
import { t } from "@/ui/words.ts";

export const stageTitle = (stage: Stage): string =>
  stage.kind === "rest" ? t("stage.rest") : t("stage.title", { n: stage.number, name: stage.name });

/** The number and the day first: a narrow list cuts off the end. */
function inShort(stage: Stage): string {
  const day = stageDay(stage.start_at_ms, stage.time_zone);
  return stage.kind === "rest" ? `${t("stage.rest")} · ${day}` : `${t("road.stage", { n: stage.number })} · ${day} · ${stage.name}`;
}

export function StagePicker() {
  return (
    <label class="picker">
      <span>{t("stage.pick")}</span>
      <select value={currentStageId.value ?? ""} onChange={(event) => (chosenStageId.value = event.currentTarget.value)}>
        {stages.value.map((stage) => (
          <option key={stage.id} value={stage.id}>{inShort(stage)}</option>
        ))}
      </select>
    </label>
  );
}
