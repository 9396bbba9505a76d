import { evidenceOf } from "@/core/progress.ts";
import { decimal, kilograms, kilometres, litres, millilitres, stageTime } from "@/core/display.ts";
import type { AteBody, DrankBody, FactEvent, HandedUpBody, SymptomBody } from "@/protocol/records.ts";
import { contested, takeBack } from "@/store/commands.ts";
import { currentStage, docsOf, folded, session } from "@/store/state.ts";
import { Button } from "@/ui/parts/button.tsx";
import { Evidence } from "@/ui/parts/evidence.tsx";
import { spoken, t } from "@/ui/words.ts";

function amount(event: FactEvent): string {
  const body = event.body as { mass_kg?: number; volume_l?: number; left_l?: number; n_bottles?: number };
  if (event.kind === "weighed") return kilograms(body.mass_kg ?? 0);
  if (event.kind === "ate") return `${decimal((event.body as AteBody).n_units, 0)} ×`;
  if (event.kind === "symptom") return t(`symptom.${(event.body as SymptomBody).symptom}`);
  const volumeL = body.volume_l ?? body.left_l;
  if (volumeL === undefined) return "";
  return event.kind === "handed_up" ? litres(volumeL * (body.n_bottles ?? 1)) : millilitres(volumeL);
}

const nameOf = (memberId: string): string => docsOf("member").find((member) => member.id === memberId)?.name ?? t("bus.someone");

/** Where it was: the stretch of a recall, or the place of a hand-up. */
function where(event: FactEvent): string {
  const { from_km: from, to_km: to } = event.body as DrankBody;
  const { feed_km: feed } = event.body as HandedUpBody;
  if (from !== undefined && to !== undefined) return `${kilometres(from)}–${decimal(to, 0)}`;
  return feed === undefined ? "" : kilometres(feed);
}

function thing(event: FactEvent): string {
  const { food_id: food, drink_id: drink } = event.body as { food_id?: string; drink_id?: string };
  return docsOf("food").find((f) => f.id === food)?.name ?? docsOf("drink").find((d) => d.id === drink)?.short_name ?? "";
}

const isContested = (event: FactEvent): boolean =>
  [...folded.value.live.values()].some((fact) => fact.kind === "contested" && fact.ref === event.id);

/** One fact with who noted it, and the one act open to this person: take it back, or say that it is not his. */
export function FactLine({ event }: { event: FactEvent }) {
  const isMine = event.by === session.value?.member.id;
  const zone = currentStage.value?.time_zone ?? "UTC";
  const place = where(event);
  const carrier = docsOf("rider").find((r) => r.id === (event.body as HandedUpBody).carried_by);
  const isOut = isContested(event);
  // To the second: two sips of one minute are two buttons.
  const at = `${stageTime(event.at_ms, zone)}:${String(Math.floor(event.at_ms / 1000) % 60).padStart(2, "0")}`;
  const what = [`${spoken(`fact.${event.kind}`) ?? event.kind} ${amount(event)} ${thing(event)}`, place, at].filter((part) => part !== "").join(", ");
  const isSubject = event.subject_id === session.value?.member.rider_id;
  return (
    <li class="fact">
      <span class="fact-said">
        <b>{spoken(`fact.${event.kind}`) ?? event.kind}</b> {amount(event)} {thing(event)} <Evidence kind={evidenceOf(event)} />
        <small>
          {place !== "" && `${place} · `}{stageTime(event.at_ms, zone)}
          {carrier !== undefined && ` · ${t("fact.carriedBy", { n: carrier.race_number })}`}
          {!isMine && ` · ${t("bus.notedBy", { name: nameOf(event.by) })}`}
          {(event.body as DrankBody).is_doubtful && ` · ${t("bus.doubtful")}`}
          {isOut && ` · ${t("bus.contested")}`}
        </small>
      </span>
      {isMine && <Button kind="quiet" label={`${t("road.takeBack")}: ${what}`} onPress={() => void takeBack(event)}>{t("road.takeBack")}</Button>}
      {!isMine && !isOut && isSubject && <Button kind="quiet" label={`${t("bus.notMine")}: ${what}`} onPress={() => void contested(event)}>{t("bus.notMine")}</Button>}
    </li>
  );
}
