import { evidenceOf } from "@/core/progress.ts";
import { kilograms, litres, millilitres, stageTime } from "@/core/display.ts";
import type { DrankBody, FactEvent } from "@/protocol/records.ts";
import { contested, takeBack } from "@/store/commands.ts";
import { currentStage, docsOf, events, folded, session } from "@/store/state.ts";
import { Button } from "@/ui/parts/button.tsx";
import { Evidence } from "@/ui/parts/evidence.tsx";
import { spoken, t } from "@/ui/words.ts";

function amount(event: FactEvent): string {
  const body = event.body as { mass_kg?: number; volume_l?: number; left_l?: number; n_bottles?: number };
  if (event.kind === "weighed") return kilograms(body.mass_kg ?? 0);
  const volumeL = body.volume_l ?? body.left_l;
  if (volumeL === undefined) return "";
  return event.kind === "handed_up" ? litres(volumeL * (body.n_bottles ?? 1)) : millilitres(volumeL);
}

const nameOf = (memberId: string): string => docsOf("member").find((member) => member.id === memberId)?.name ?? t("bus.someone");

const isContested = (event: FactEvent): boolean =>
  [...folded.value.live.values()].some((fact) => fact.kind === "contested" && fact.ref === event.id);

/** One fact with who noted it, and the one act open to this person: take it back, or say that it is not his. */
export function FactLine({ event }: { event: FactEvent }) {
  const isMine = event.by === session.value?.member.id;
  const zone = currentStage.value?.time_zone ?? "UTC";
  const drink = docsOf("drink").find((d) => d.id === (event.body as DrankBody).drink_id)?.short_name ?? "";
  const isOut = isContested(event);
  return (
    <li class="fact">
      <span class="fact-said">
        <b>{spoken(`fact.${event.kind}`) ?? event.kind}</b> {amount(event)} {drink} <Evidence kind={evidenceOf(event)} />
        <small>
          {stageTime(event.at_ms, zone)}
          {!isMine && ` · ${t("bus.notedBy", { name: nameOf(event.by) })}`}
          {(event.body as DrankBody).is_doubtful && ` · ${t("bus.doubtful")}`}
          {isOut && ` · ${t("bus.contested")}`}
        </small>
      </span>
      {isMine && <Button kind="quiet" onPress={() => void takeBack(event)}>{t("road.takeBack")}</Button>}
      {!isMine && !isOut && <Button kind="quiet" onPress={() => void contested(event)}>{t("bus.notMine")}</Button>}
    </li>
  );
}

/** Facts made here that are no longer in force, for a count. */
export const nTakenBack = (): number => [...folded.value.ignored].filter((id) => events.value.has(id)).length;
