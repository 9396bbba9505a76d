import { useState } from "preact/hooks";

import { decimal, litres, millilitres, stageTime } from "@/core/display.ts";
import { stampOrder } from "@/core/fold.ts";
import { volumeOf } from "@/core/settle_edit.ts";
import type { AteBody, EvidenceKind, FactEvent, HandedUpBody, Stage, WeighedBody } from "@/protocol/records.ts";
import { takeBack } from "@/store/commands.ts";
import { docsOf } from "@/store/state.ts";
import { Button } from "@/ui/parts/button.tsx";
import { Evidence } from "@/ui/parts/evidence.tsx";
import { canEdit, drinkById, foodById, memberName } from "@/ui/screens/staff/look.ts";
import { addFact } from "@/ui/screens/staff/settle_acts.ts";
import type { RiderRow } from "@/ui/screens/staff/settle_state.ts";
import { spoken, t } from "@/ui/words.ts";

const SHOWN: ReadonlySet<string> = new Set([
  "weighed", "handed_up", "came_back", "poured", "lost", "drank", "ate", "agreed", "reopened", "note",
]);

/** Every entry behind a row, who made it and when; staff take one back or add a bottle that was missed. */
export function SettleEvents({ r, stage }: { r: RiderRow; stage: Stage }) {
  const events = r.events.filter((event) => SHOWN.has(event.kind)).sort(stampOrder);
  return (
    <details class="sx-events">
      <summary>{t("staff.settle.entries", { n: events.length })}</summary>
      <ul class="rows">
        {events.map((event) => <EventLine key={event.id} event={event} stage={stage} isOpen={r.row.state !== "settled"} />)}
      </ul>
      {canEdit.value && r.row.state !== "settled" && <MissedBottle r={r} stage={stage} />}
    </details>
  );
}

function EventLine({ event, stage, isOpen }: { event: FactEvent; stage: Stage; isOpen: boolean }) {
  const isWord = event.kind === "agreed" || event.kind === "reopened";
  return (
    <li class="sx-event">
      <span>{eventText(event)}<Evidence kind={evidenceOfEvent(event)} /></span>
      <small>{memberName(event.by)} {stageTime(event.at_ms, stage.time_zone)}</small>
      {canEdit.value && isOpen && !isWord && (
        <Button kind="quiet" label={t("staff.settle.take_back_of", { what: eventText(event) })} onPress={() => void takeBack(event)}>{t("staff.settle.take_back")}</Button>
      )}
    </li>
  );
}

function evidenceOfEvent(event: FactEvent): EvidenceKind | null {
  if (event.kind === "weighed") return "weighed";
  if (event.kind === "handed_up") return "counted";
  const how = (event.body as { how?: string }).how;
  const known: Readonly<Record<string, EvidenceKind>> = { weighed: "weighed", counted: "counted", count: "counted", level: "tapped", recall: "recalled" };
  return how === undefined ? (event.kind === "poured" || event.kind === "lost" ? "tapped" : null) : (known[how] ?? null);
}

export function eventText(event: FactEvent): string {
  const drink = drinkById((event.body as { drink_id?: string }).drink_id ?? "")?.name ?? "";
  switch (event.kind) {
    case "weighed": {
      const body = event.body as WeighedBody;
      const text = t("staff.entry.weighed", { moment: t(`staff.settle.${body.moment}`), kg: decimal(body.mass_kg, 1) });
      return body.readings_kg === undefined ? text : `${text} (${body.readings_kg.map((kg) => decimal(kg, 1)).join(", ")})`;
    }
    case "handed_up": {
      const body = event.body as HandedUpBody;
      return t("staff.entry.handed_up", { n: body.n_bottles ?? 1, each: millilitres(body.volume_l), drink });
    }
    case "ate": {
      const body = event.body as AteBody;
      return t("staff.entry.ate", { n: decimal(body.n_units, body.n_units % 1 === 0 ? 0 : 1), food: foodById(body.food_id)?.name ?? "" });
    }
    case "agreed": return t("staff.entry.agreed", { l: litres((event.body as { drunk_l: number }).drunk_l) });
    case "reopened": return t("staff.entry.reopened", { reason: (event.body as { reason: string }).reason });
    case "note": return (event.body as { text: string }).text;
    default: return [spoken(`staff.entry.${event.kind}`, { l: millilitres(volumeOf(event)) }) ?? event.kind, drink].filter((part) => part !== "").join(", ");
  }
}

/** A bottle somebody remembers in the evening, with what was in it: the sodium counts as well as the water. */
function MissedBottle({ r, stage }: { r: RiderRow; stage: Stage }) {
  const drinks = docsOf("drink");
  const [drinkId, setDrinkId] = useState(drinks[0]?.id ?? "");
  const drink = drinks.find((one) => one.id === drinkId);
  if (drink === undefined) return null;
  const id = `missed-${r.rider.id}`;
  return (
    <div class="sx-line">
      <span class="sx-field">
        <label for={id}>{t("staff.settle.missed_bottle")}</label>
        <select id={id} value={drinkId} onChange={(event) => setDrinkId(event.currentTarget.value)}>
          {drinks.map((one) => <option key={one.id} value={one.id}>{one.name} · {millilitres(one.bottle_l ?? 0.5)}</option>)}
        </select>
      </span>
      <Button kind="quiet" onPress={() => void addFact(r.rider.id, stage.id, { kind: "handed_up", body: { drink_id: drink.id, volume_l: drink.bottle_l ?? 0.5 } })}>
        {t("staff.settle.add_bottle")}
      </Button>
    </div>
  );
}
